"""A cart's road fill and weights as its pages show them: the figure with its working, loads, tickets and what counted before."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast
from uuid import UUID

from fleet.models.carts import Cart
from fleet.models.weights import TankMeasured, WeighbridgeTicket, WeightSheet
from fleet.road_fill import DECIDES, counted, road_fill, road_fill_words, tickets_of
from fleet.water.mass_limits import RuleSet
from fleet.water.road import NoFigure, RoadFill
from fleet.water.road_law import group_keys
from fleet.weight_working import workings
from people.yard import yard_day

LATEST = 20
COUNTS, AS_IT_WAS, STRUCK = "counts", "of the cart as it was", "struck out"


@dataclass(frozen=True)
class LoadRow:
    """One support, or the whole, in kg: tank empty, at the road fill, full, and its limit; over_kg: full over the limit."""

    name: str
    empty_kg: int
    at_fill_kg: int
    full_kg: int
    limit_kg: int
    over_kg: int


@dataclass(frozen=True)
class TicketRow:
    """A ticket, whether it counts, and what it weighed over the figures on front and rear (None: it does not count)."""

    row: WeighbridgeTicket
    standing: str
    front_over_kg: int | None
    rear_over_kg: int | None


def load_rows(found: RoadFill) -> list[LoadRow]:
    empty, at_fill, full = (found.loads_kg(n) for n in (0, found.litres, found.facts.tank.capacity_l))
    rows = []
    for name, limit, _ in found.limits:
        empty_kg, at_fill_kg, full_kg = (
            math.ceil(sum(loads.values()) if name == "gross" else loads[name])
            for loads in (empty, at_fill, full)
        )
        limit_kg, called = math.floor(limit.kg), "the whole cart" if name == "gross" else name
        rows.append(
            LoadRow(called, empty_kg, at_fill_kg, full_kg, limit_kg, over_kg=max(full_kg - limit_kg, 0))
        )
    return rows


def shown(found: RoadFill | NoFigure) -> Mapping[str, object]:
    """The figure for a template: `line` is what certificates and customers' pages say too."""
    if isinstance(found, NoFigure):
        return {"line": road_fill_words(found), "none": found}
    return {
        "line": road_fill_words(found),
        "fill": found,
        "loads": load_rows(found),
        "workings": workings(found),
        "plot_alt": _plot_alt(found),
        "decides": DECIDES,
    }


def panel(cart: Cart, at: datetime) -> Mapping[str, object]:
    """The cart page's panel. Five queries."""
    return shown(road_fill(cart, on=yard_day(at)))


def _plot_alt(found: RoadFill) -> str:
    said = "; ".join(
        f"{row.name} {row.empty_kg:,} kg empty, {row.full_kg:,} kg full, limit {row.limit_kg:,} kg"
        for row in load_rows(found)
    )
    return f"Loads against litres. Road fill {found.litres:,} L. {said}."


def _standing(row: WeighbridgeTicket, counting: Mapping[UUID, object]) -> str:
    if getattr(row, "struck", None) is not None:
        return STRUCK
    return COUNTS if row.pk in counting else AS_IT_WAS


def ticket_rows(
    cart: Cart, tickets: Sequence[WeighbridgeTicket], found: RoadFill | NoFigure, *, at: datetime
) -> list[TicketRow]:
    """The tickets handed in, each beside the figures."""
    on = yard_day(at)
    sheet = cart.weight_sheets.filter(from_on__lte=on).first()
    good = tickets_of([cart], on=on).get(cart.pk, ())
    counting = [one.pk for one in (counted(sheet, good) if sheet else good)]
    residuals = found.ready.residuals if isinstance(found, RoadFill) else ()
    over = dict(zip(counting, residuals, strict=False))
    return [
        TicketRow(
            row,
            _standing(row, dict.fromkeys(counting)),
            round(over[row.pk].front_kg) if row.pk in over else None,
            round(over[row.pk].rear_kg) if row.pk in over else None,
        )
        for row in tickets
    ]


TICKET_HEAD = (
    "Weighed", "Weighbridge", "Ticket", "Front kg", "Rear kg", "Water L", "Driver in", "Kit aboard", "Fuel eighths",
    "Weighed by", "Counts", "Front over the figures kg", "Rear over the figures kg", "Recorded", "Recorded by",
    "Why struck out",
)  # fmt: skip


def ticket_table(cart: Cart, *, at: datetime) -> Iterator[Sequence[object]]:
    """All tickets of a cart under TICKET_HEAD, for a file."""
    tickets = list(cart.weighbridge_tickets.select_related("recorded_by", "struck"))
    for one in ticket_rows(cart, tickets, road_fill(cart, on=yard_day(at)), at=at):
        row, struck = one.row, getattr(one.row, "struck", None)
        yield (
            row.weighed_at, row.place_words, row.number, row.front_kg, row.rear_kg, row.water_l, row.driver_in, row.kit_in,
            row.fuel_eighths, row.by_words, one.standing, one.front_over_kg, one.rear_over_kg, row.recorded_at,
            row.recorded_by.full_name, struck.words if struck else "",
        )  # fmt: skip


LOAD_HEAD = ("What", "Tank empty kg", "At road fill kg", "Full tank kg", "Limit kg", "Full over limit kg")


def load_table(cart: Cart, *, at: datetime) -> Iterator[Sequence[object]]:
    """Loads under LOAD_HEAD, for a file; no rows for a cart without a figure."""
    found = road_fill(cart, on=yard_day(at))
    for row in load_rows(found) if isinstance(found, RoadFill) else []:
        yield row.name, row.empty_kg, row.at_fill_kg, row.full_kg, row.limit_kg, row.over_kg


@dataclass(frozen=True)
class VersionRow:
    """What was on record of a tank or of plates, from a day on."""

    on: object
    what: str
    words: str
    recorded_at: datetime
    recorded_by: str


VERSION_HEAD = ("From", "What", "In words", "Recorded", "Recorded by")


def _tank_words(row: TankMeasured) -> str:
    size = (
        f"its own table of {len(row.dip_rows or [])} dips"
        if row.length_m is None
        else f"{row.get_shape_display().lower()}, {row.length_m} × {row.width_m} × {row.height_m} m inside"
    )
    return f"{size}; middle {row.middle_m} m behind the first axle; {row.dead_l:,} L not drawn; by {row.by_words}"


def _sheet_words(row: WeightSheet) -> str:
    kinds = group_keys(cast("RuleSet", row.rule_set))
    groups = "; ".join(
        f"{one.name} at {one.position_m} m, tare {one.tare_kg:,} kg"
        + (f", for the law {kinds[one.law_key]}" if one.law_key in kinds else "")
        + (f", maker {one.maker_kg:,} kg" if one.maker_kg else "")
        + (f", {one.tyres} tyres of {one.tyre_load_kg:,} kg" if one.tyre_load_kg else "")
        for one in row.groups.all()
    )
    return f"{groups or row.get_stands_on_display()}; {row.source_words}"


def version_rows(cart: Cart, *, latest: int | None = None) -> list[VersionRow]:
    """Tanks and plates on record, newest day first; `latest`: no more of each than so many. Three queries."""
    tanks = cart.tanks_measured.select_related("recorded_by")[:latest]
    sheets = cart.weight_sheets.select_related("recorded_by").prefetch_related("groups")[:latest]
    rows = [
        VersionRow(one.measured_on, "Tank", _tank_words(one), one.recorded_at, one.recorded_by.full_name)
        for one in tanks
    ] + [
        VersionRow(one.from_on, "Plates", _sheet_words(one), one.recorded_at, one.recorded_by.full_name)
        for one in sheets
    ]
    return sorted(rows, key=lambda row: (str(row.on), row.recorded_at), reverse=True)


def version_table(cart: Cart, *, at: datetime) -> Iterator[Sequence[object]]:
    """All of them under VERSION_HEAD, for a file; `at` as the other files have it."""
    for row in version_rows(cart):
        yield row.on, row.what, row.words, row.recorded_at, row.recorded_by


# The files of the page: name, head, and the rows of a cart.
FILES = (
    ("loads", LOAD_HEAD, load_table),
    ("tickets", TICKET_HEAD, ticket_table),
    ("versions", VERSION_HEAD, version_table),
)
