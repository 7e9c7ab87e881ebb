"""What has just been done, told on the next page: in the yard's words from the moment it is said."""

from __future__ import annotations

from typing import Any

from django.contrib.messages.storage.fallback import FallbackStorage

from people.say import say, typed


class SaidStorage(FallbackStorage):
    """Notices are said while it is still known which of their words somebody typed, and then stay as they are."""

    def add(self, level: int, message: str, extra_tags: str | None = "") -> None:
        super().add(level, say(message), extra_tags)

    def _get(self, *args: Any, **kwargs: Any) -> Any:
        found = super()._get(*args, **kwargs)  # type: ignore[misc]  # the stubs leave out what a storage is made of
        typed([str(one.message) for one in found[0] or ()])
        return found
