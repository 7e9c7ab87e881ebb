"""What is shown of move permits: the newest on a cart's page, and one permit in full."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.models.permits import MovePermit

NEWEST = 5
STANDS = {
    "ready": "May be used",
    "ended": "Ended, not used",
    "under_way": "On its way",
    "late": "Not come by its end",
    "came": "Used",
    "withdrawn": "Withdrawn",
}
# Open ones that want somebody: drawn with a mark.
MARKS = {"ready": "caution", "under_way": "caution", "late": "stop"}


@dataclass(frozen=True)
class PermitLine:
    """A permit with how it stands now, in words, and the shape that goes with it; "": none."""

    permit: MovePermit
    state: str
    words: str
    mark: str


def line_of(permit: MovePermit, *, at: datetime) -> PermitLine:
    state = permit.state(at=at)
    return PermitLine(permit, state, STANDS[state], MARKS.get(state, ""))


def open_lines(*, at: datetime) -> list[PermitLine]:
    """Every permit that may be used or is on its way, the one that ends first on top. One query."""
    may_be_used = Q(left_at=None, expires_at__gt=at)
    under_way = Q(left_at__isnull=False, came_at=None)
    permits = MovePermit.objects.filter(may_be_used | under_way, withdrawn_at=None).order_by("expires_at")
    return [line_of(one, at=at) for one in permits.select_related("cart", "driver", "given_by")]


def panel(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """The newest permits of a cart; None where it never had one. One query."""
    newest = list(cart.move_permits.select_related("driver", "given_by")[: NEWEST + 1])
    if not newest:
        return None
    return {"lines": [line_of(one, at=at) for one in newest[:NEWEST]], "is_more": len(newest) > NEWEST}
