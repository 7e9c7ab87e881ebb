"""How fit the carts of the fleet are for open bookings, all at once: a ready cart is proposed before a held one, and one that
nothing falls due on in the period before one with a service in it. Reads only; the page asks again for the carts chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Readiness, Window, readiness_each
from hire.suiting import PER_DUE, Enquiry

# What a cart costs that is held as things are, beside one that may go: a held cart may be cleared by then, so less than anything it
# lacks (NEAR_COST), and more than what it has in excess. Common practice, no source.
HELD_COST = 25.0
# Who has a cart meanwhile is weighed by the hour (hire.booking_yard), and no blocker of it here.
BY_THE_HOUR = frozenset({"hire.overlap"})


@dataclass(frozen=True)
class Fitness:
    """The readiness of each cart from now to the end of the last booking, by whether a road is used."""

    by_road: Mapping[UUID, Readiness]
    off_road: Mapping[UUID, Readiness]

    def cost(self, enquiry: Enquiry, cart: Cart) -> float:
        """What a cart costs for a period, for being held and for what falls due in it."""
        uses_road = "road" in (enquiry.leaves_by, enquiry.works_on)
        found = (self.by_road if uses_road else self.off_road).get(cart.pk)
        if found is None:
            return 0.0
        is_held = any(one.code not in BY_THE_HOUR for one in found.blockers)
        due = [one for one in found.cautions if one.due_at and enquiry.start <= one.due_at < enquiry.end]
        return HELD_COST * is_held + PER_DUE * len(due)


def fitness_for(enquiries: Sequence[Enquiry], carts: Sequence[Cart], *, at: datetime) -> Fitness:
    """The fleet looked at once, and once more where some bookings keep off roads. A constant number of queries."""
    last = max((one.end for one in enquiries), default=at)
    if last <= at or not carts:
        return Fitness({}, {})

    def look(way: str) -> Mapping[UUID, Readiness]:
        window = Window(at, last, leaves_by=way, works_on=way, asks_gate=False)
        return readiness_each(carts, windows={cart.pk: window for cart in carts}, at=at)

    off_road = any("road" not in (one.leaves_by, one.works_on) for one in enquiries)
    return Fitness(look("road"), look("site") if off_road else {})
