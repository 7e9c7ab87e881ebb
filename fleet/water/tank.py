"""Litres by depth and depth by litres for a tank lying on its side, its dip table, and how heavy water is.

Depths are of level water above the tank's lowest point, inside measures, flat ends. Dished ends, baffles, sumps and a cart
standing on a slope are not in it: a tank measured with a meter has a table of its own (fleet.water.tank_calibrated).
docs/tank.md has the formulas with worked tables. A dip is read to some millimetres; a weighbridge decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, get_args

from fleet.water.measured import Number, above_zero, not_below_zero, number, outside, within

Shape = Literal["cylinder", "ellipse", "box"]
LITRES_PER_M3 = 1000.0
# CIPM 2001, air-free water at one atmosphere (WD-20: form VERIFIED-S, coefficients MEMORY; they give every VERIFIED-S value
# of WD-01 to WD-08, which a test holds).
DENSITY_A = (-3.983035, 301.797, 522528.9, 69.34881, 999.974950)
DENSITY_RANGE_C = (0.0, 40.0)
# A dip is read by eye against a rule: finer steps than this only make paper. Common practice, no source.
LEAST_STEP_MM = 1.0
# Halvings of a tank's height: far under 0.1 mm for any tank on wheels, and the same points for every volume, so that more
# litres never come out as less depth.
HALVINGS = 50


@dataclass(frozen=True, slots=True)
class DipRow:
    """One line of a dip table: mm of water above the bottom, mm from the lid down to the water, litres."""

    depth_mm: float
    down_mm: float
    litres: float


@dataclass(frozen=True)
class Tank:
    """A tank on its side, inside measures in metres: length along the axis, width across, height up.

    shape: "cylinder" (width = height), "ellipse" (upright or lying) or "box". ValueError for another word, a measure that
    is no number above zero, or a cylinder that is not round.
    """

    shape: Shape
    length_m: float
    width_m: float
    height_m: float

    def __post_init__(self) -> None:
        if self.shape not in get_args(Shape):
            raise ValueError(f"A tank is a cylinder, an ellipse or a box, not “{self.shape}”.")
        above_zero(self.length_m, "The tank's length")
        above_zero(self.width_m, "The tank's width")
        above_zero(self.height_m, "The tank's height")
        if self.shape == "cylinder" and self.width_m != self.height_m:
            raise ValueError(
                "A cylinder on its side is as wide as it is high; for any other make it an ellipse."
            )

    @cached_property
    def capacity_l(self) -> float:
        """Litres when full: the box's l x w x h, or pi/4 of it (TK-02, TK-10)."""
        box = float(self.length_m) * float(self.width_m) * float(self.height_m) * LITRES_PER_M3
        return box if self.shape == "box" else box * math.pi / 4

    def volume_l(self, depth_m: Number) -> float:
        """Litres at a depth of 0..height in metres. ValueError outside, or for what is no number.

        Source: section 7.1 (VERIFIED-S) and 7.2 (VERIFIED-S, with the factor 4 that page leaves out), as `share_full`.
        """
        depth = within(depth_m, 0, float(self.height_m), "The depth", "m")
        share = depth / float(self.height_m)
        return self.capacity_l * (share if self.shape == "box" else share_full(share))

    def depth_m(self, volume_l: Number) -> float:
        """Metres of depth at 0..capacity litres, to well under 0.1 mm. ValueError outside, or for what is no number."""
        return depth_for(volume_l, self.volume_l, capacity_l=self.capacity_l, height_m=float(self.height_m))

    def dip_table(self, step_mm: Number, *, lid_above_top_mm: Number = 0) -> tuple[DipRow, ...]:
        """Rows of `dip_rows`, from empty to full."""
        return dip_rows(
            self.volume_l, height_m=float(self.height_m), step_mm=step_mm, lid_above_top_mm=lid_above_top_mm
        )


def share_full(depth_share: float) -> float:
    """The share of a round or elliptic section under water at a share of its height, both 0..1 (TK-04, TK-11).

    With half the angle the water spans, a: (a - sin a cos a) / pi, the same as the two printed forms.
    """
    half_angle = 2 * math.asin(math.sqrt(depth_share))
    return (half_angle - math.sin(half_angle) * math.cos(half_angle)) / math.pi


def depth_for(
    volume_l: Number, volume_at: Callable[[float], float], *, capacity_l: float, height_m: float
) -> float:
    """The depth in metres at which `volume_at` gives those litres, by halving; never falls where litres rise."""
    volume = within(volume_l, 0, capacity_l, "The volume", "L")
    if volume in {0, capacity_l}:
        return height_m if volume else 0.0
    low, high = 0.0, height_m
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if volume_at(middle) < volume else (low, middle)
    return (low + high) / 2


def dip_rows(
    volume_at: Callable[[float], float],
    *,
    height_m: float,
    step_mm: Number,
    lid_above_top_mm: Number = 0,
) -> tuple[DipRow, ...]:
    """A row each step_mm from empty up, and one for full even where it is no whole step.

    lid_above_top_mm: how far the mark one measures down from stands over the tank's inside top. ValueError for a step under
    1 mm, or a lid below the top.
    """
    step = number(step_mm, "The step")
    if step < LEAST_STEP_MM:
        raise ValueError("The step of a dip table has to be at least 1 mm.")
    lid_mm = height_m * 1000 + not_below_zero(lid_above_top_mm, "The lid's height above the top")
    height_mm = height_m * 1000
    # A last step that ends at the top but for the last bit of a float is the top itself.
    depths = [step * n for n in range(math.ceil(height_mm / step - 1e-9))]
    return tuple(
        DipRow(depth, lid_mm - depth, volume_at(min(depth / 1000, height_m)))
        for depth in [*depths, height_mm]
    )


@dataclass(frozen=True, slots=True)
class Dip:
    """mm from the mark at the lid down to the water, rounded up; mm on the sight tube, rounded down, None where there is no tube
    or it starts above this water."""

    down_mm: int
    sight_mm: int | None


def dip_of(*, depth_m: float, height_m: float, lid_above_mm: float, sight_zero_mm: float | None) -> Dip:
    """Where one reads a depth of 0..height: on either mark never more water than there is room for."""
    mark = None if sight_zero_mm is None else math.floor(depth_m * 1000 - sight_zero_mm)
    down = math.ceil(lid_above_mm + (height_m - depth_m) * 1000)
    return Dip(down, mark if mark is not None and mark >= 0 else None)


def pumpable_l(*, volume_l: Number, dead_l: Number) -> float:
    """Litres that can be sprayed: what is aboard less what the pump can't draw; 0 when it can draw none.

    ValueError for either below zero or no number. Common practice, no source; the dead volume is measured on the cart.
    """
    volume, dead = not_below_zero(volume_l, "The volume"), not_below_zero(dead_l, "The dead volume")
    return max(volume - dead, 0.0)


def water_density_kg_m3(temperature_c: Number) -> float:
    """The kg in a cubic metre of clean, air-free water at a temperature in deg C, one atmosphere (WD-01 to WD-08, WD-20).

    Made for 0 to 40 deg C; `out_of_range` tells of others. ValueError for what is no number, or so cold that the form breaks
    down. Bore and recycled water are heavier, and for a legal fill 1,000 kg/m3 is the safe side: never fill tighter by this.
    """
    t = number(temperature_c, "The water's temperature")
    a1, a2, a3, a4, a5 = DENSITY_A
    if t <= -a4:
        raise ValueError("The water's temperature is far below freezing.")
    return a5 * (1 - (t + a1) ** 2 * (t + a2) / (a3 * (t + a4)))


def out_of_range(*, temperature_c: Number) -> tuple[str, ...]:
    """Sentences where `water_density_kg_m3` is asked beyond what it was made for."""
    return outside(temperature_c, *DENSITY_RANGE_C, "A water temperature", "°C")
