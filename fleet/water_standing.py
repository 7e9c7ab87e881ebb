"""How carts stand for drinking water, from what is on record, and the finding readiness makes of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from uuid import UUID

from fleet.models.carts import Cart, Fitment
from fleet.models.water import Sanitising, WaterCarried
from fleet.readiness import Blocker, Record
from fleet.water.history import MAY, NEVER, Carried, Sanitised, Standing, potable_standing
from people.roles import DESK, WALKERS
from people.yard import yard_day, yard_policy

# Where the figures and the verdict of the tool end.
CAUTION = (
    "This is what the yard’s own record says. Whether a tank may carry drinking water is decided by local health rules and "
    "those licensed under them."
)


def standings(carts: Collection[Cart]) -> dict[UUID, Standing]:
    """How each cart stands, by cart id, in three queries: its potable tank, the latest fill of each source, the newest
    sanitising."""
    tanks = set(
        Fitment.objects.filter(cart__in=carts, kind="potable_tank", removed_on=None).values_list(
            "cart_id", flat=True
        )
    )
    fills: defaultdict[UUID, list[Carried]] = defaultdict(list)
    latest = WaterCarried.objects.filter(cart__in=carts, struck_at=None)
    for fill in latest.order_by("cart_id", "source", "-filled_at").distinct("cart_id", "source"):
        fills[fill.cart_id].append(Carried(fill.source, fill.filled_at, yard_day(fill.filled_at)))
    newest = Sanitising.objects.filter(cart__in=carts, struck_at=None)
    sanitised = {
        row.cart_id: Sanitised(row.done_at, yard_day(row.done_at), row.by_words, row.test_passed)
        for row in newest.order_by("cart_id", "-done_at").distinct("cart_id")
    }
    dedicated_only = not yard_policy().potable_after_bore
    return {
        cart.pk: potable_standing(
            fills[cart.pk],
            [sanitised[cart.pk]] if cart.pk in sanitised else [],
            dedicated_only=dedicated_only,
            has_potable_tank=cart.pk in tanks,
        )
        for cart in carts
    }


def standing_of(cart: Cart) -> Standing:
    return standings([cart])[cart.pk]


def blocker(cart: Cart, standing: Standing) -> Blocker | None:
    """What stops a hire that carries drinking water; never passed by anybody."""
    if standing.verdict == MAY:
        return None
    verdict = "may not carry drinking water" if standing.verdict == NEVER else "not yet for drinking water"
    return Blocker(
        code="water.potable",
        sentence=f"Hired for potable water, {verdict}: {standing.sentence[:1].lower()}{standing.sentence[1:]}",
        record=Record("cart", cart.pk),
        cleared_by=WALKERS | DESK,
        clear_words=standing.clear_words,
        weight=9,
    )
