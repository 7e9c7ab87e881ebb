"""Writing the journal: last in an action's transaction, one entry a chain, chains in sorted order."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from decimal import Decimal

from django.db import connection

from people.canonical import Plain, canonical_text
from people.journal.events import Event
from people.journal.models import Entry
from people.models import Staff

YARD = "yard"


def cart_chain(cart_id: uuid.UUID) -> str:
    return f"cart:{cart_id}"


def _plain(value: object) -> Plain:
    """Facts as JSON without floats: measured figures and instants travel as text, so the hash never depends on printing."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, Iterable):
        return [_plain(item) for item in value]
    if isinstance(value, Decimal | uuid.UUID) or hasattr(value, "isoformat"):
        return str(value)
    raise TypeError(f"A journal fact cannot be a {type(value).__name__}.")


def write_journal(
    *,
    event: Event,
    subject: tuple[str, uuid.UUID],
    at: datetime,
    by: Staff | None,
    by_words: str = "",
    chains: Iterable[str] = (YARD,),
    facts: Mapping[str, object] | None = None,
) -> list[Entry]:
    """Write one entry a chain for one action, and return them in chain order.

    Call it last inside the action's transaction: the chain's head row stays locked until commit, and two
    actions taking chains in opposite orders would deadlock, so they are taken sorted.
    Raises RuntimeError outside a transaction.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("A journal entry is written inside the action's own transaction.")
    words = by_words or (by.full_name if by else "The clock")
    action_id = uuid.uuid4()
    entries = []
    for chain in sorted(set(chains)):
        text = canonical_text(
            {
                "action": str(action_id),
                "at": at.astimezone(UTC).isoformat(timespec="microseconds"),
                "by": str(by.pk) if by else None,
                "by_words": words,
                "event": event.value,
                "facts": _plain(facts or {}),
                "subject": [subject[0], str(subject[1])],
            }
        )
        entry = Entry(
            chain=chain,
            event=event.value,
            subject_kind=subject[0],
            subject_id=subject[1],
            action_id=action_id,
            by=by,
            by_words=words,
            at=at,
            text=text,
        )
        entry.save(force_insert=True)
        entries.append(entry)
    return entries
