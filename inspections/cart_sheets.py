"""From a cart's rows to its sheets: the facts, places and tread limits that build_sheet asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.lap.stations import axle_ends, station_of_wheel, wheel_codes
from fleet.models.carts import Cart
from fleet.tread_limits import legal_limit, withdrawal_limit
from inspections.check import Check
from inspections.limits import Limit
from inspections.sheet import Places, Sheet, build_sheet
from people.yard import yard_policy


def cart_facts(cart: Cart) -> frozenset[str]:
    """The cart's gear keys, its tank material, and whether it has duals or is registered (fitments prefetched)."""
    facts = {fitment.kind for fitment in cart.fitments.all() if fitment.removed_on is None}
    facts.add(f"tank_{cart.tank_material}")
    if cart.plate:
        facts.add("registered")
    if any(group.has_duals for group in cart.axle_groups.all()):
        facts.add("dual_tyres")
    return frozenset(facts)


def cart_places(cart: Cart) -> Places:
    """Where tyres, hubs, extinguishers and emergency stops are asked for (all prefetched)."""
    rows = {row.code: row for row in cart.wheel_positions.all()}
    axles = _axles(cart)
    tyres = [(code, station_of_wheel(code, axles)) for code in wheel_codes(axles) if code in rows]
    hubs = [(code, station_of_wheel(code, axles)) for code in axle_ends(axles)]
    extinguishers = [(row.serial, _bracket_station(row.bracket)) for row in cart.extinguishers.all()]
    stops = next(
        (row.count for row in cart.fitments.all() if row.kind == "emergency_stop" and row.removed_on is None),
        0,
    )
    return Places(
        tyres=tuple(tyres),
        hubs=tuple(hubs),
        extinguishers=tuple(extinguishers),
        # The first is in the cab, the second at the rear by the pump, others along the sides.
        emergency_stops=tuple(
            (str(n + 1), ("cab", "rear", "right_side", "left_side")[n % 4]) for n in range(stops)
        ),
    )


@dataclass(frozen=True)
class _Axle:
    kind: str
    duals: bool


def _axles(cart: Cart) -> list[_Axle]:
    """The cart's axles from the front, as its wheel positions say."""
    axles: dict[int, _Axle] = {}
    for row in cart.wheel_positions.all():
        axles[row.axle] = _Axle("steer" if row.steers else "drive", row.place != "single")
    return [axles[number] for number in sorted(axles)]


def _bracket_station(bracket: str) -> str:
    words = bracket.lower()
    for word, station in (("rear", "rear"), ("right", "right_side"), ("left", "left_side")):
        if word in words:
            return station
    return "cab"


def tread_limits(cart: Cart) -> dict[str, Limit]:
    """The change-out depth of each wheel position; below the legal depth nobody may use it, so both grades are kept:
    the limit asked is the change-out depth, at "repair by a date" only while it stands above the legal one."""
    policy, limits = yard_policy(), {}
    for row in cart.wheel_positions.all():
        place = "steer" if row.steers else "other"
        yard_mm = policy.tread_steer_mm if row.steers else policy.tread_other_mm
        change_out = withdrawal_limit(rule_set=policy.rule_set, position=place, yard_mm=yard_mm)
        grade = "do_not_use" if change_out.set_by == "law" else "by_date"
        limits[row.code] = Limit(">=", change_out.depth_mm, "mm", grade)
    return limits


def legal_limits(cart: Cart) -> dict[str, Limit]:
    """The legal depth of each wheel position, as limits that forbid use."""
    limits = {}
    for row in cart.wheel_positions.all():
        legal = legal_limit(rule_set=yard_policy().rule_set, position="steer" if row.steers else "other")
        limits[row.code] = Limit(">=", legal.depth_mm, "mm", "do_not_use")
    return limits


def sheet_for(cart: Cart, *, purpose: str, checks: Sequence[Check]) -> Sheet:
    """The cart's sheet for a purpose from an edition's checks (the cart loaded by Cart.objects.for_sheets())."""
    return build_sheet(
        checks,
        facts=cart_facts(cart),
        places=cart_places(cart),
        purpose=purpose,
        rule_set=yard_policy().rule_set,
        tread_limits=tread_limits(cart),
    )
