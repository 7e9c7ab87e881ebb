"""Which function does which kind of work. Apps register theirs in AppConfig.ready()."""

from collections.abc import Callable
from datetime import datetime
from uuid import UUID

Handler = Callable[[UUID, datetime], None]

_handlers: dict[str, Handler] = {}


def register_handler(kind: str, handler: Handler) -> None:
    """`handler(subject_id, at)` must be safe to run twice. ValueError when the kind has another handler already."""
    if _handlers.get(kind, handler) is not handler:
        raise ValueError(f"Outbox work {kind!r} already has a handler.")
    _handlers[kind] = handler


def handler_for(kind: str) -> Handler:
    return _handlers[kind]
