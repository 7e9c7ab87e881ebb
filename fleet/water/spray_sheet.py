"""A cart's own spray figures, and what they give the driver in each gear at each rpm with some of its heads open.

The figures are the yard's, timed and measured by it or read off the makers' sheets. Heads take what the pump's pressure drives
through them until they ask for more than the pump gives; then the pump's flow is all there is. docs/spraying.md has it worked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.water.measured import Number, above_zero, not_below_zero
from fleet.water.spraying import (
    DriverRow,
    PumpDrive,
    driver_rows,
    flow_at_pressure,
    metres_per_load,
    minutes_to_fill,
)


@dataclass(frozen=True, slots=True)
class Gear:
    """A gear, the km/h it does at the sheet's `gears_rpm`, and the metres wetted with all heads open."""

    name: str
    speed_km_h: float
    width_m: float


@dataclass(frozen=True, slots=True)
class Head:
    """A head, its nozzle in words, and its L/min when new at the sheet's `head_kpa`."""

    name: str
    nozzle: str
    nominal_l_min: float


@dataclass(frozen=True, slots=True)
class Opening:
    """Heads that are open together, by name; width_m None: the gear's width."""

    name: str
    heads: tuple[str, ...]
    width_m: float | None = None


@dataclass(frozen=True, slots=True)
class SpraySheet:
    """The figures of one cart. pump_l_min at pump_kpa and pump_rpm of the engine; rpms: those the table is wanted for; dead_l: what
    the pump can't draw, and fill_l_min, None where nobody timed a fill: both its tank's. ValueError with a sentence for what
    cannot be."""

    pump: PumpDrive
    pump_l_min: float
    pump_kpa: float
    pump_rpm: float
    gears_rpm: float
    rpms: tuple[float, ...]
    head_kpa: float
    fill_l_min: float | None
    dead_l: float
    gears: tuple[Gear, ...]
    heads: tuple[Head, ...]
    openings: tuple[Opening, ...]

    def __post_init__(self) -> None:
        for value, what in (
            (self.pump_l_min, "The pump's flow"), (self.pump_kpa, "The pump's pressure"), (self.pump_rpm, "The pump's rpm"),
            (self.gears_rpm, "The gears' rpm"), (self.head_kpa, "The heads' pressure"),
            *((rpm, "Each rpm") for rpm in self.rpms),
        ):  # fmt: skip
            above_zero(value, what)
        if self.fill_l_min is not None:
            above_zero(self.fill_l_min, "The flow at the fill point")
        not_below_zero(self.dead_l, "What the pump can't draw")
        if not self.rpms:
            raise ValueError("Give at least one rpm for the table.")
        self._check_gears()
        self._check_heads()

    def _check_gears(self) -> None:
        _named_once([gear.name for gear in self.gears], "gear")
        for gear in self.gears:
            above_zero(gear.speed_km_h, f"The speed in {gear.name}")
            above_zero(gear.width_m, f"The width in {gear.name}")

    def _check_heads(self) -> None:
        names = [head.name for head in self.heads]
        _named_once(names, "head")
        for head in self.heads:
            above_zero(head.nominal_l_min, f"The flow when new of {head.name}")
        _named_once([one.name for one in self.openings], "choice of heads")
        for one in self.openings:
            if not one.heads or set(one.heads) - set(names):
                raise ValueError(f"“{one.name}” has to name heads of this cart, and at least one.")
            if one.width_m is not None:
                above_zero(one.width_m, f"The width of {one.name}")

    def opening(self, name: str) -> Opening:
        """By name; the first where there is none of that name."""
        return self.opening_named(name) or self.openings[0]

    def opening_named(self, name: str) -> Opening | None:
        """By name, whatever its capitals; "" the first. None where there is none of that name."""
        if not name:
            return self.openings[0]
        return next((one for one in self.openings if one.name.casefold() == name.casefold()), None)


@dataclass(frozen=True, slots=True)
class OpenFlow:
    """What the heads would take at the pump's pressure, and the flow there is: the pump's own where they would take more."""

    heads_l_min: float
    flow_l_min: float

    @property
    def is_pump_bound(self) -> bool:
        return self.flow_l_min < self.heads_l_min


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A line of the driver's table, what a load does by it, and the width it was reckoned with."""

    driver: DriverRow
    width_m: float
    metres_per_load: float
    empty_min: float


def open_flow(sheet: SpraySheet, opening: Opening) -> OpenFlow:
    """L/min of the open heads at the pump's pressure and rpm: the sum of each by the root of pressure (SP-09, VERIFIED-S), and
    never more than the pump gives (common practice, no source)."""
    nominal = math.fsum(head.nominal_l_min for head in sheet.heads if head.name in opening.heads)
    asked = flow_at_pressure(flow_l_min=nominal, pressure_kpa=sheet.head_kpa, new_pressure_kpa=sheet.pump_kpa)
    return OpenFlow(asked, min(asked, sheet.pump_l_min))


def pumpable_l(sheet: SpraySheet, *, load_l: Number) -> float:
    """The litres of a load that can be sprayed. ValueError where the pump can't draw any of it."""
    return above_zero(above_zero(load_l, "The load") - sheet.dead_l, "What the pump can draw of the load")


def sheet_rows(sheet: SpraySheet, opening: Opening, *, load_l: Number) -> tuple[SheetRow, ...]:
    """A row for every gear and rpm. load_l: litres in the tank when it leaves the fill point."""
    load, flow = pumpable_l(sheet, load_l=load_l), open_flow(sheet, opening).flow_l_min
    rows: list[SheetRow] = []
    for gear in sheet.gears:
        width = opening.width_m or gear.width_m
        for row in driver_rows(
            gears={gear.name: gear.speed_km_h}, gears_at_rpm=sheet.gears_rpm, rpms=sheet.rpms, flow_l_min=flow,
            flow_at=sheet.pump_rpm, width_m=width, pump=sheet.pump,
        ):  # fmt: skip
            metres = metres_per_load(load_l=load, target_l_m2=row.rate_l_m2, width_m=width)
            rows.append(SheetRow(row, width, metres, load / row.flow_l_min))
    return tuple(rows)


def nearest_to(rows: Sequence[SheetRow], *, target_l_m2: Number) -> SheetRow:
    """The row whose rate is nearest the target, of several the slowest. ValueError without rows, or for a target of zero or
    less."""
    target = above_zero(target_l_m2, "The rate")
    if not rows:
        raise ValueError("The driver's table has no rows.")
    return min(rows, key=lambda row: (round(abs(row.driver.rate_l_m2 - target), 9), row.driver.speed_km_h))


def fill_min(sheet: SpraySheet, *, load_l: Number) -> float | None:
    """Minutes to fill what was sprayed; None where nobody timed a fill."""
    if sheet.fill_l_min is None:
        return None
    return minutes_to_fill(litres=pumpable_l(sheet, load_l=load_l), fill_l_min=sheet.fill_l_min)


def _named_once(names: Sequence[str], what: str) -> None:
    if not names:
        raise ValueError(f"Give at least one {what}.")
    if any(not name.strip() for name in names):
        raise ValueError(f"Every {what} has a name.")
    if len({name.casefold() for name in names}) < len(names):
        raise ValueError(f"Two {what}s have one name. Name each differently.")
