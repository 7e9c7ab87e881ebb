"""Wheel positions from axle groups: which tyres a cart carries is told by its axles, never typed in one by one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol


@dataclass(frozen=True)
class GroupPlan:
    """One axle group as it is typed in, in the order they stand from the front. `position_m`: the group's centre behind
    the first axle."""

    kind: str
    axles: int
    has_duals: bool
    position_m: Decimal
    tare_kg: int
    limit_kg: int


@dataclass(frozen=True)
class PlannedPosition:
    """A place for one tyre, as fleet.models.wheels.WheelPosition keeps it."""

    code: str
    axle: int
    side: str
    place: str
    steers: bool


def planned_positions(groups: Sequence[GroupPlan]) -> Iterator[PlannedPosition]:
    """Every tyre's place, axle by axle from the front, left before right, outer before inner."""
    axle = 0
    for group in groups:
        for _ in range(group.axles):
            axle += 1
            for side in ("L", "R"):
                places = (("outer", "O"), ("inner", "I")) if group.has_duals else (("single", ""),)
                for place, letter in places:
                    yield PlannedPosition(f"{axle}{side}{letter}", axle, side, place, group.kind == "steer")


class GroupRow(Protocol):
    """An axle group as its row keeps it."""

    kind: str
    axles: int
    has_duals: bool
    position_m: Decimal
    tare_kg: int
    limit_kg: int


def plans_of(rows: Iterable[GroupRow]) -> list[GroupPlan]:
    """The plan that rows of axle groups, given from the front, were made by."""
    return [
        GroupPlan(row.kind, row.axles, row.has_duals, row.position_m, row.tare_kg, row.limit_kg)
        for row in rows
    ]
