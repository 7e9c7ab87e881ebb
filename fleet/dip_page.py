"""A cart's dip table as it is printed and saved: mm down from the lid, mm of water, the sight tube's mark, litres."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.models.carts import Cart
from fleet.models.weights import TankMeasured
from fleet.road_fill import road_fill, tank_of
from fleet.water.road import RoadFill
from fleet.water.tank import Dip, dip_of

STEPS_MM = (20, 50, 100)
STEP_MM = 50
DIP_HEAD = ("mm down from the lid", "mm of water", "Sight tube mm", "Litres", "On a public road")


@dataclass(frozen=True)
class DipLine:
    """down_mm from the dip mark at the lid; sight_mm None: below the tube's zero, or no tube. is_over: more than the road fill;
    None: there is none on record."""

    down_mm: int
    depth_mm: int
    sight_mm: int | None
    litres: int
    is_over: bool | None


@dataclass(frozen=True)
class DipTable:
    """lines from full to empty, as one reads downwards; road_fill None: none on record."""

    tank: TankMeasured
    step_mm: int
    lines: tuple[DipLine, ...]
    road_fill: RoadFill | None

    @property
    def has_tube(self) -> bool:
        return self.tank.sight_zero_mm is not None


def step_of(typed: str | None) -> int:
    """The step asked for in the address, where it is one of STEPS_MM."""
    return int(typed) if typed in {str(step) for step in STEPS_MM} else STEP_MM


def dip_table(cart: Cart, *, on: date, step_mm: int = STEP_MM) -> DipTable | None:
    """The table of the tank as measured; None: nobody has measured it. Six queries."""
    tank = cart.tanks_measured.filter(measured_on__lte=on).first()
    if tank is None:
        return None
    found = road_fill(cart, on=on)
    fill, zero = found if isinstance(found, RoadFill) else None, tank.sight_zero_mm
    lines = []
    for row in tank_of(tank).dip_table(step_mm, lid_above_top_mm=tank.lid_above_mm):
        depth_mm, litres = math.floor(row.depth_mm), math.floor(row.litres)
        sight = None if zero is None or depth_mm < zero else depth_mm - zero
        over = None if fill is None else litres > fill.litres
        lines.append(DipLine(math.ceil(row.down_mm), depth_mm, sight, litres, over))
    return DipTable(tank, step_mm, tuple(reversed(lines)), fill)


def dip_rows(table: DipTable) -> Iterator[Sequence[object]]:
    """The lines under DIP_HEAD, for a file."""
    words = {True: "over the road fill", False: "up to the road fill", None: ""}
    for line in table.lines:
        yield line.down_mm, line.depth_mm, line.sight_mm, line.litres, words[line.is_over]


def dip_at(cart: Cart, litres: float, *, on: date) -> Dip | None:
    """Where one reads so many litres, up to the top of the tank as measured; None: nobody has measured it, or not so that it holds
    together. One query."""
    row = cart.tanks_measured.filter(measured_on__lte=on).first()
    if row is None:
        return None
    try:
        tank = tank_of(row)
        depth = tank.depth_m(min(litres, tank.capacity_l))
    except ValueError:
        return None
    return dip_of(
        depth_m=depth, height_m=tank.height_m, lid_above_mm=row.lid_above_mm, sight_zero_mm=row.sight_zero_mm
    )
