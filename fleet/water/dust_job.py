"""What a watering job takes a day: passes, litres, loads and carts, with a low and a high from the ranges of what went in.

Traffic, evaporation, area and the carts' round are known only so well. Every need rises with each of them, so the low is
reckoned with every low and the high with every high: the true need lies between as surely as the inputs do. docs/dust.md
has it worked.
"""

from __future__ import annotations

from dataclasses import dataclass

from fleet.water.dust import hours_between_passes, watering_control_pct
from fleet.water.measured import Number, above_zero, not_below_zero, number, within
from fleet.water.spraying import whole_up


@dataclass(frozen=True, slots=True)
class Range:
    """What an input likely is, and the least and most it may be. ValueError unless low <= likely <= high, all above zero."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        above_zero(self.low, "The low of a range")
        above_zero(self.high, "The high of a range")
        within(self.likely, self.low, self.high, "The likely value of a range", "(its low and high)")


@dataclass(frozen=True, slots=True)
class Need:
    """A day of the job: the longest hours between passes, whole passes, litres, whole loads and whole carts; and the control the
    passes keep, per cent, on the mean."""

    hours_between: float
    passes: int
    litres: float
    loads: int
    carts: int
    control_pct: float


@dataclass(frozen=True, slots=True)
class JobNeed:
    low: Need
    likely: Need
    high: Need


def job_need(
    *,
    area_m2: Range,
    evaporation_mm_h: Range,
    vehicles_per_h: Range,
    cycle_min: Range,
    target_control_pct: Number,
    application_l_m2: Number,
    load_l: Number,
    hours_a_day: Number,
) -> JobNeed:
    """The day's need for one kind of cart: its pumpable load, and the minutes of its round from fill to fill.

    Carts are enough for the day's loads, and so for each pass within its interval. One pass a day at least; the area counts once
    over, whatever overlaps. ValueError as `hours_between_passes`, or for a load or day of zero or less, or a day over 24
    hours. Source: WE-12 (COMPUTED from WE-01, MEMORY); the rest is counting (common practice, no source).
    """
    plan = _Plan(
        number(target_control_pct, "The target control"),
        number(application_l_m2, "The rate"),
        above_zero(load_l, "The load"),
        above_zero(hours_a_day, "The hours a day"),
    )
    ranges = (area_m2, evaporation_mm_h, vehicles_per_h, cycle_min)
    return JobNeed(
        _need(plan, *(each.low for each in ranges)),
        _need(plan, *(each.likely for each in ranges)),
        _need(plan, *(each.high for each in ranges)),
    )


@dataclass(frozen=True, slots=True)
class _Plan:
    target_control_pct: float
    application_l_m2: float
    load_l: float
    hours_a_day: float

    def __post_init__(self) -> None:
        within(self.hours_a_day, 0, 24, "The hours a day", "h")


def _need(
    plan: _Plan, area_m2: float, evaporation_mm_h: float, vehicles_per_h: float, cycle_min: float
) -> Need:
    hours, load = plan.hours_a_day, plan.load_l
    longest = hours_between_passes(
        target_control_pct=plan.target_control_pct,
        evaporation_mm_h=evaporation_mm_h,
        vehicles_per_h=vehicles_per_h,
        application_l_m2=plan.application_l_m2,
    )
    passes = max(whole_up(hours / longest), 1)
    litres_a_pass = area_m2 * plan.application_l_m2
    loads = whole_up(litres_a_pass * passes / load)
    # Passes and loads are whole, so this is never under what one pass takes within its interval.
    carts = whole_up(loads * cycle_min / (hours * 60))
    kept = watering_control_pct(
        evaporation_mm_h=evaporation_mm_h,
        vehicles_per_h=vehicles_per_h,
        hours_between=hours / passes,
        application_l_m2=plan.application_l_m2,
    )
    return Need(longest, passes, litres_a_pass * passes, loads, carts, kept)


def emission_kg_a_day(*, g_per_vkt: Number, vehicle_km_a_day: Number, control_pct: Number = 0) -> float:
    """The kg of dust a day off a road with so much traffic, at a control of 0..100 %. ValueError below zero or outside it."""
    kept = within(control_pct, 0, 100, "The control", "%") / 100
    dust = not_below_zero(g_per_vkt, "The dust") * not_below_zero(vehicle_km_a_day, "The traffic")
    return dust / 1000 * (1 - kept)
