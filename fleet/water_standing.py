"""How carts stand for drinking water, from what is on record, and the finding readiness makes of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from fleet.models.carts import Cart, Fitment
from fleet.models.water import Sanitising, WaterCarried
from fleet.readiness import Blocker, Caution, Record
from fleet.water.history import (
    MAY,
    NEVER,
    Carried,
    Sanitised,
    Standing,
    days_stood,
    potable_standing,
    stood_words,
)
from fleet.water_told import Told, told_of
from people.roles import DESK, WALKERS
from people.yard import yard_day, yard_policy

# Where the figures and the verdict of the tool end.
CAUTION = (
    "This is what the yard’s own record says. Whether a tank may carry drinking water is decided by local health rules and "
    "those licensed under them."
)


def standings(
    carts: Collection[Cart], *, told: Mapping[UUID, Sequence[Told]] | None = None
) -> dict[UUID, Standing]:
    """How each cart stands, by cart id, in six queries: its potable tank, the latest fill of each source, the newest sanitising,
    and what was told of its hires in three, where it is not handed in."""
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
    if told is None:
        told = told_of([cart for cart in carts if cart.pk in tanks])
    dedicated_only = not yard_policy().potable_after_bore
    found = {}
    for cart in carts:
        newest_one, hires = sanitised.get(cart.pk), told.get(cart.pk, ())
        standing = potable_standing(
            [*fills[cart.pk], *_spoiling(hires)],
            [newest_one] if newest_one else [],
            dedicated_only=dedicated_only,
            has_potable_tank=cart.pk in tanks,
        )
        aboard = [*(one.at for one in fills[cart.pk]), *(one.at for one in hires if one.is_out)]
        filled_at = max(aboard, default=None)
        is_since = filled_at is not None and (newest_one is None or newest_one.at < filled_at)
        found[cart.pk] = replace(standing, filled_at=filled_at if is_since else None)
    return found


def _spoiling(told: Iterable[Told]) -> list[Carried]:
    """Potable water of a hire is no history of a tank: what it carried before that is for the yard to record."""
    return [
        Carried(one.source, one.at, yard_day(one.at), one.words) for one in told if one.source != "potable"
    ]


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


def stood(standing: Standing, *, at: datetime) -> str:
    """What is said of a loaded tank that stood for longer than the yard lets it; "" while it has not."""
    days = days_stood(standing.filled_at, at=at, most_days=yard_policy().water_stands_days)
    return stood_words(yard_day(standing.filled_at), days) if days and standing.filled_at else ""


def stood_caution(cart: Cart, standing: Standing, *, at: datetime) -> Caution | None:
    words = stood(standing, at=at)
    return (
        Caution("water.stood", words, Record("cart", cart.pk), None, "its water is fresh") if words else None
    )
