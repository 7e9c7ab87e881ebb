"""Who walks a cart: a person of the yard, or a customer's person on one hire. What is asked of both is answered here."""

from __future__ import annotations

from typing import TypeAlias

from fleet.actions.photos import Outsider
from inspections.models import SiteWalker
from people.models import Staff

Walker: TypeAlias = "Staff | SiteWalker"


def person_of(walker: Walker) -> dict[str, str]:
    """A person as the tablet knows them."""
    if isinstance(walker, Staff):
        return {"id": str(walker.pk), "name": walker.full_name, "role": walker.role}
    return {"id": str(walker.pk), "name": walker.name, "role": "site"}


def staff_or_none(walker: Walker) -> Staff | None:
    return walker if isinstance(walker, Staff) else None


def words_of(walker: Walker) -> str:
    """Who they are: "Wes Tonkin, yard hand", or "Jo Field, Callabar Quarries"."""
    return f"{walker.full_name}, {walker.role_label.lower()}" if isinstance(walker, Staff) else walker.words


def sender_of(walker: Walker) -> Staff | Outsider:
    """Whoever sends a photo, as the photo's keepers know them."""
    return walker if isinstance(walker, Staff) else Outsider(walker.pk, walker.words)
