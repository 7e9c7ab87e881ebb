"""The road fill of carts from what is on record of them: many carts at once, in a constant number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import cast
from uuid import UUID

from django.db.models import Count

from fleet.models.carts import AxleGroup, Cart
from fleet.models.weights import TWO_GROUPS, GroupWeights, TankMeasured, WeighbridgeTicket, WeightSheet
from fleet.water.mass_limits import RuleSet
from fleet.water.road import NoFigure, RoadFill, reckon
from fleet.water.road_facts import Allowances, Facts, GroupFacts, Weighing
from fleet.water.tank import Shape, Tank
from fleet.water.tank_calibrated import CalibratedTank
from people.yard import day_bounds, yard_day, yard_policy

NONE_OUTSIDE = (
    "Road fill: none on record. Carry water on a public road only as a weighbridge shows that it may."
)
DECIDES = "A weighbridge decides."
FRESH_WATER = "For fresh water, 1 kg a litre: salt or treated water weighs more."
NOT_MEASURED = "This cart is not measured yet."
ENTER_BOTH = "Enter its tank and its plates under “Road fill and weight”, then weigh it ready to work."
ENTER_TANK = "Its plates are on record; measure its tank."
ENTER_SHEET = "Its tank is on record; enter its plates."
BEYOND = "No road fill is reckoned for more than two axle groups, or with a trailer."
_LIMITS_OF = {"au": "Australian", "us": "United States", "uk": "United Kingdom"}
OVER_A_BRIDGE = "Load it over a weighbridge, group by group."


def road_fill_of(carts: Collection[Cart], *, on: date, rule_set: str = "") -> dict[UUID, RoadFill | NoFigure]:
    """The road fill of each cart by what was on record on a yard's day, by cart id; NoFigure says why there is none.
    rule_set: under which a hire works, "": the plates' own; plates entered under another give no figure.

    Five queries however many carts.
    """
    tanks = {row.cart_id: row for row in _newest_tanks(carts, on)}
    sheets = {row.cart_id: row for row in _newest_sheets(carts, on)}
    tickets = tickets_of(carts, on=on)
    many = set(
        AxleGroup.objects.filter(cart__in=carts).order_by().values("cart").annotate(groups=Count("pk"))
        .filter(groups__gt=2).values_list("cart", flat=True)
    )  # fmt: skip
    found: dict[UUID, RoadFill | NoFigure] = {}
    for cart in carts:
        tank, sheet = tanks.get(cart.pk), sheets.get(cart.pk)
        if cart.pk in many or (sheet is not None and sheet.stands_on != TWO_GROUPS):
            found[cart.pk] = NoFigure(BEYOND, OVER_A_BRIDGE)
        elif tank is None or sheet is None:
            found[cart.pk] = NoFigure(NOT_MEASURED, _what_to_enter(tank, sheet))
        elif rule_set and sheet.rule_set != rule_set:
            found[cart.pk] = _other_law(sheet, rule_set)
        else:
            found[cart.pk] = _reckoned(cart, tank, sheet, tickets.get(cart.pk, ()))
    return found


def road_fill(cart: Cart, *, on: date, rule_set: str = "") -> RoadFill | NoFigure:
    """The road fill of one cart; see road_fill_of."""
    return road_fill_of([cart], on=on, rule_set=rule_set)[cart.pk]


def _other_law(sheet: WeightSheet, rule_set: str) -> NoFigure:
    kept, asked = (_LIMITS_OF[key] for key in (sheet.rule_set, rule_set))
    return NoFigure(
        f"The plates of this cart were entered under {kept} limits, and this hire works under {asked} limits.",
        f"None is reckoned from them under {asked} limits. {OVER_A_BRIDGE}",
    )


def road_fill_words(found: RoadFill | NoFigure) -> str:
    """One line for a paper or a page: "Road fill: 11,446 L (383 mm down from the lid), by steer axle at 6,000 kg, the law's limit,
    from 4 weighbridge tickets …; a weighbridge decides.", or why there is none."""
    if isinstance(found, NoFigure):
        return f"Road fill: none. {found.sentence}"
    by = "" if found.fill.binding == "none" else f", by {found.binding_words}"
    full = " (full tank)" if found.is_full_tank else f" ({found.down_mm:,} mm down from the lid)"
    return f"Road fill: {found.litres:,} L{full}{by}, {found.source}; a weighbridge decides."


def paper_words(found: RoadFill | NoFigure) -> tuple[str, ...]:
    """What a customer's paper or page says of it: the line, and "Full tank: not on a public road." where so."""
    if isinstance(found, NoFigure):
        return (NONE_OUTSIDE,)
    return tuple(one for one in (road_fill_words(found), FRESH_WATER, found.full_tank_words) if one)


def tickets_of(carts: Collection[Cart], *, on: date) -> Mapping[UUID, Sequence[WeighbridgeTicket]]:
    """The tickets of carts that were not struck out, oldest first, by cart id. One query."""
    found: defaultdict[UUID, list[WeighbridgeTicket]] = defaultdict(list)
    until = day_bounds(on)[1]
    rows = WeighbridgeTicket.objects.filter(cart__in=carts, weighed_at__lt=until, struck=None)
    for row in rows.order_by("weighed_at", "recorded_at"):
        found[row.cart_id].append(row)
    return found


def counted(sheet: WeightSheet, tickets: Sequence[WeighbridgeTicket]) -> list[WeighbridgeTicket]:
    """Those tickets that are of the cart as its plates now have it."""
    since = sheet.tickets_from_on
    return [one for one in tickets if since is None or yard_day(one.weighed_at) >= since]


def _newest_tanks(carts: Collection[Cart], on: date) -> Sequence[TankMeasured]:
    rows = TankMeasured.objects.filter(cart__in=carts, measured_on__lte=on)
    return list(rows.order_by("cart_id", "-measured_on", "-recorded_at").distinct("cart_id"))


def _newest_sheets(carts: Collection[Cart], on: date) -> Sequence[WeightSheet]:
    rows = WeightSheet.objects.filter(cart__in=carts, from_on__lte=on)
    newest = rows.order_by("cart_id", "-from_on", "-recorded_at").distinct("cart_id")
    return list(newest.prefetch_related("groups"))


def _what_to_enter(tank: TankMeasured | None, sheet: WeightSheet | None) -> str:
    if tank is None and sheet is None:
        return ENTER_BOTH
    return ENTER_TANK if tank is None else ENTER_SHEET


def _reckoned(
    cart: Cart, tank: TankMeasured, sheet: WeightSheet, tickets: Sequence[WeighbridgeTicket]
) -> RoadFill | NoFigure:
    if len(sheet.groups.all()) != 2:
        return NoFigure(NOT_MEASURED, ENTER_SHEET)
    try:
        inside = tank_of(tank)
    except ValueError as error:
        return NoFigure(str(error), "Measure the tank again.")
    return reckon(facts_of(cart, tank, sheet, counted(sheet, tickets), inside))


def tank_of(row: TankMeasured) -> Tank | CalibratedTank:
    """The tank as measured. ValueError where its measures or its table cannot be a tank's."""
    if row.length_m is None or row.width_m is None or row.height_m is None:
        return CalibratedTank(tuple((mm / 1000, litres) for mm, litres in row.dip_rows or ()))
    return Tank(cast("Shape", row.shape), float(row.length_m), float(row.width_m), float(row.height_m))


def _known(value: Decimal | int | None) -> float | None:
    return None if value is None else float(value)


def _group(row: GroupWeights) -> GroupFacts:
    return GroupFacts(
        row.name, row.law_key, row.axles, float(row.spread_m), row.tyres, _known(row.tyre_load_kg),
        _known(row.maker_kg), float(row.position_m), float(row.tare_kg),
    )  # fmt: skip


def _weighing(row: WeighbridgeTicket) -> Weighing:
    return Weighing(
        yard_day(row.weighed_at), float(row.front_kg), float(row.rear_kg), float(row.water_l), row.driver_in,
        row.kit_in, row.fuel_eighths,
    )  # fmt: skip


def facts_of(
    cart: Cart,
    tank: TankMeasured,
    sheet: WeightSheet,
    tickets: Sequence[WeighbridgeTicket],
    inside: Tank | CalibratedTank,
) -> Facts:
    """What the pure modules are handed. The sheet has its two groups."""
    policy = yard_policy()
    front, rear = sorted(sheet.groups.all(), key=lambda row: row.place)
    return Facts(
        rule_set=cast("RuleSet", sheet.rule_set),
        groups=(_group(front), _group(rear)),
        gross_plate_kg=float(cart.gross_limit_kg),
        gross_key=sheet.gross_key,
        outer_length_m=_known(sheet.outer_length_m),
        fuel_tank_l=float(sheet.fuel_tank_l),
        fuel_place_m=float(sheet.fuel_place_m),
        cab_place_m=float(sheet.cab_place_m),
        tank=inside,
        middle_m=float(tank.middle_m),
        dead_l=float(tank.dead_l),
        lid_above_mm=float(tank.lid_above_mm),
        sight_zero_mm=_known(tank.sight_zero_mm),
        fill_l_min=_known(tank.fill_l_min),
        weighings=tuple(_weighing(one) for one in tickets),
        allowances=Allowances(policy.crew, policy.kit_kg, policy.mud_kg, policy.weight_margin_kg),
    )
