"""How often a PIN was tried: per person and tablet, and per person on all tablets. In PostgreSQL, as for sign-ins."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from people import throttle
from people.models import SignInThrottle

FREE_TRIES_ON_TABLET = 3
FREE_TRIES_OF_PERSON = 6


def _keys(person_id: UUID, tablet_id: UUID) -> list[tuple[str, int]]:
    of_person = f"pin {person_id}"
    return [(of_person, FREE_TRIES_OF_PERSON), (f"{of_person}@{tablet_id}", FREE_TRIES_ON_TABLET)]


def seconds_to_wait(*, person_id: UUID, tablet_id: UUID, at: datetime) -> int:
    """Whole seconds before another try is looked at; 0 when one may be made now."""
    return throttle.longest_wait(_keys(person_id, tablet_id), at=at)


def count_try(*, person_id: UUID, tablet_id: UUID, at: datetime) -> None:
    """Count a try for the pair and for the person. The caller holds the person's PIN row."""
    throttle.count(_keys(person_id, tablet_id), at=at)


def forget_tries(*, person_id: UUID) -> None:
    """Forget every try at this person's PIN, on whatever tablet."""
    SignInThrottle.objects.filter(key__startswith=f"pin {person_id}").delete()
