"""A cart's own lap drawing, from its rows: what is fitted, and its open defects pinned and numbered."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from fleet.gear import GEAR
from fleet.lap.cart import Grade, LapCart, Pin, SteeringSide, TankMaterial, TankShape, axles_of_groups
from fleet.lap.drawing import draw
from fleet.lap.stations import station
from fleet.models.carts import Cart
from fleet.models.defects import Defect

log = logging.getLogger("slake.drawing")


@dataclass(frozen=True)
class Pinned:
    """An open defect with the number it carries on the drawing and in the list beside it."""

    number: int
    defect: Defect
    where_words: str


def fitted_gear(cart: Cart) -> frozenset[str]:
    """Keys of the gear now on the cart (fitments prefetched)."""
    return frozenset(row.kind for row in cart.fitments.all() if row.removed_on is None)


def lap_cart(cart: Cart) -> LapCart:
    """The cart as the drawing is told it (loaded by Cart.objects.for_drawing()).

    ValueError with a sentence when its axle groups cannot be drawn: none on record, or out of order.
    """
    groups = sorted(cart.axle_groups.all(), key=lambda row: row.position)
    if not groups:
        raise ValueError("No axle groups are on record.")
    return LapCart(
        steering_side=cast("SteeringSide", cart.steering_side),
        axles=axles_of_groups(groups),
        tank_shape=cast("TankShape", cart.tank_shape),
        tank_length_m=float(cart.tank_length_m),
        tank_width_m=float(cart.tank_width_m),
        tank_material=cast("TankMaterial", cart.tank_material),
        gear=fitted_gear(cart),
    )


def place_words(place: str) -> str:
    """A wheel code, serial or gear as it is said: gear by its name, the rest as it stands."""
    return GEAR.get(place, place)


def pinned(defects: Sequence[Defect]) -> list[Pinned]:
    """Defects numbered in the order given, which is the order of the list beside the drawing."""
    return [
        Pinned(
            number,
            defect,
            ", ".join(
                part
                for part in (station(defect.station).label, place_words(defect.place or defect.gear))
                if part
            ),
        )
        for number, defect in enumerate(defects, start=1)
    ]


def _pin(item: Pinned) -> Pin:
    defect = item.defect
    return Pin(
        station=defect.station,
        place=defect.place or defect.gear,
        label=f"{item.number}. {defect.title}: {item.where_words}",
        grade=cast("Grade", defect.grade),
        number=item.number,
    )


def _description(cart: Cart, pins: Sequence[Pinned]) -> str:
    if not pins:
        return f"Cart {cart.fleet_number} seen from above, nose up. No open defect is pinned."
    told = "; ".join(
        f"{item.number}: {item.defect.title}, {item.where_words}, {item.defect.get_grade_display().lower()}"
        for item in pins
    )
    return f"Cart {cart.fleet_number} seen from above, nose up, with open defects pinned. {told}."


def lap_svg(
    cart: Cart,
    *,
    defects: Sequence[Defect] | None = None,
    self_contained: bool = False,
    id_prefix: str = "lap",
    walk: bool = True,
) -> str:
    """The lap drawing of a cart as a whole <svg> element, its defects pinned in the order given (None: its open ones,
    worst first). Empty when the cart cannot be drawn, which the log tells; a page then says so in words."""
    found = pinned(list(cart.defects.open().worst_first()) if defects is None else defects)
    try:
        return draw(
            lap_cart(cart),
            title=f"Cart {cart.fleet_number}",
            description=_description(cart, found),
            pins=[_pin(item) for item in found],
            walk=walk,
            numbers=walk,
            id_prefix=id_prefix,
            self_contained=self_contained,
        )
    except ValueError as error:
        log.warning("drawing.not_drawn", extra={"facts": {"cart": cart.fleet_number, "why": str(error)}})
        return ""
