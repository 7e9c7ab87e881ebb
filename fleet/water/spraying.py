"""How much water a cart lays on a road, how far a load goes, how many loads make a day, and gear and rpm for the driver.

One litre on a square metre is one millimetre of water. Speeds are km/h over the ground, flows L/min of all heads that are
open, widths metres really wetted. docs/spraying.md has it worked. Too much water makes a road slippery: the site's own rules
and the driver's eye stand over any rate here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from fleet.water.measured import Number, above_zero, not_below_zero, plain

M_PER_MIN = 1000 / 60
# What Australian haul-road trials saw water carts lay (RT-05, VERIFIED-P).
TRIAL_L_M2 = (0.3, 1.0)

PumpDrive = Literal["engine", "own engine"]


@dataclass(frozen=True, slots=True)
class LoadCycle:
    """Minutes of one round from fill to fill, its parts, and the loads in a shift: with a part of one, and whole ones."""

    fill_min: float
    haul_min: float
    spray_min: float
    other_min: float
    cycle_min: float
    loads: float
    whole_loads: int


@dataclass(frozen=True, slots=True)
class DriverRow:
    """One line of the driver's table: gear, engine rpm, the speed and flow they give, and what that lays on the road."""

    gear: str
    rpm: float
    speed_km_h: float
    flow_l_min: float
    rate_l_m2: float


def application_l_m2(*, flow_l_min: Number, speed_km_h: Number, width_m: Number) -> float:
    """L/m2 laid: flow / (speed in m/min x width) (RT-01, COMPUTED). ValueError for a flow below zero, or a speed or width of
    zero or less."""
    flow = not_below_zero(flow_l_min, "The flow")
    metres_a_minute = above_zero(speed_km_h, "The speed") * M_PER_MIN
    return flow / (metres_a_minute * above_zero(width_m, "The width"))


def speed_km_h(*, flow_l_min: Number, target_l_m2: Number, width_m: Number) -> float:
    """km/h that lays the target rate (RT-01, COMPUTED). ValueError unless flow, rate and width are above zero."""
    flow, rate = above_zero(flow_l_min, "The flow"), above_zero(target_l_m2, "The rate")
    return flow / (rate * above_zero(width_m, "The width")) / M_PER_MIN


def area_m2(*, load_l: Number, target_l_m2: Number) -> float:
    """m2 that a load covers at a rate. ValueError for a load below zero, or a rate of zero or less."""
    return not_below_zero(load_l, "The load") / above_zero(target_l_m2, "The rate")


def metres_per_load(*, load_l: Number, target_l_m2: Number, width_m: Number) -> float:
    """Metres of road that a load covers at a rate over a width. ValueError as `area_m2`, or for a width of zero or less."""
    return area_m2(load_l=load_l, target_l_m2=target_l_m2) / above_zero(width_m, "The width")


def loads_needed(*, area_m2: Number, target_l_m2: Number, load_l: Number) -> int:
    """Whole loads that cover an area once, rounded up. ValueError for an area below zero, or a rate or load of zero or less."""
    area, rate = not_below_zero(area_m2, "The area"), above_zero(target_l_m2, "The rate")
    return whole_up(area * rate / above_zero(load_l, "The load"))


def whole_up(count: float) -> int:
    """Rounded up, but for what is whole save for the last bits of a float."""
    return round(count) if math.isclose(count, round(count), rel_tol=1e-12) else math.ceil(count)


def minutes_to_fill(*, litres: Number, fill_l_min: Number) -> float:
    """Minutes at the fill point. ValueError for litres below zero, or a flow of zero or less."""
    return not_below_zero(litres, "The litres") / above_zero(fill_l_min, "The flow at the fill point")


def load_cycle(
    *,
    load_l: Number,
    fill_l_min: Number,
    haul_km: Number,
    haul_km_h: Number,
    spray_l_min: Number,
    shift_h: Number,
    other_min: Number = 0,
) -> LoadCycle:
    """One round: fill, drive haul_km to the work and the same back, spray empty, and other_min for waiting, coupling and
    priming; and how many go into a shift. load_l is what can be pumped.

    ValueError for a distance or other minutes below zero, or any other of zero or less. Dimensional identity (COMPUTED);
    queues at the fill point are the caller's minutes.
    """
    load = above_zero(load_l, "The load")
    fill = minutes_to_fill(litres=load, fill_l_min=fill_l_min)
    haul = 2 * not_below_zero(haul_km, "The distance") / above_zero(haul_km_h, "The speed on the way") * 60
    spray = load / above_zero(spray_l_min, "The flow")
    other = not_below_zero(other_min, "The other minutes")
    cycle = fill + haul + spray + other
    loads = above_zero(shift_h, "The shift") * 60 / cycle
    return LoadCycle(fill, haul, spray, other, cycle, loads, math.floor(loads * (1 + 1e-12)))


def flow_at_rpm(*, flow_l_min: Number, rpm: Number, new_rpm: Number) -> float:
    """L/min of a pump driven by the engine at other rpm, in proportion. ValueError for a flow or new rpm below zero, or rpm of
    zero or less. Common practice, no source: it holds near the rpm at which the flow was measured, heads open as then."""
    flow, new = not_below_zero(flow_l_min, "The flow"), not_below_zero(new_rpm, "The rpm")
    return flow * new / above_zero(rpm, "The rpm at which it was measured")


def flow_at_pressure(*, flow_l_min: Number, pressure_kpa: Number, new_pressure_kpa: Number) -> float:
    """L/min of the same heads at another pressure, by its square root (SP-09 to SP-11, VERIFIED-S). Any one unit of pressure over
    the air's. ValueError for a flow or new pressure below zero, or a measured pressure of zero or less."""
    flow = not_below_zero(flow_l_min, "The flow")
    new = not_below_zero(new_pressure_kpa, "The new pressure")
    return flow * math.sqrt(new / above_zero(pressure_kpa, "The pressure"))


def driver_rows(
    *,
    gears: Mapping[str, Number],
    gears_at_rpm: Number,
    rpms: Sequence[Number],
    flow_l_min: Number,
    flow_at: Number,
    width_m: Number,
    pump: PumpDrive = "engine",
) -> tuple[DriverRow, ...]:
    """A row for every gear and rpm with the heads open that gave the flow; one such table for each choice of heads.

    gears: name -> km/h at gears_at_rpm. flow_at: the engine's rpm when flow_l_min was measured. A pump on the engine gives
    flow by rpm, as the wheels give speed, so within a gear the rate stays the same and the gear sets it; a pump with an
    engine of its own gives the same flow at every rpm. ValueError for no gears or rpm, another word for the pump, or what is
    not above zero. Common practice, no source.
    """
    if pump not in get_args(PumpDrive):
        raise ValueError(f"The pump is driven by the “engine” or by its “own engine”, not “{pump}”.")
    if not gears or not rpms:
        raise ValueError("The driver's table wants at least one gear and one rpm.")
    flow = above_zero(flow_l_min, "The flow")
    rows = []
    for gear, at_rpm in gears.items():
        ratio = above_zero(at_rpm, f"The speed in {gear}") / above_zero(gears_at_rpm, "The gears' rpm")
        for each in rpms:
            rpm = above_zero(each, "The rpm")
            speed = rpm * ratio
            given = flow_at_rpm(flow_l_min=flow, rpm=flow_at, new_rpm=rpm) if pump == "engine" else flow
            rate = application_l_m2(flow_l_min=given, speed_km_h=speed, width_m=width_m)
            rows.append(DriverRow(gear, rpm, speed, given, rate))
    return tuple(rows)


def nearest_row(rows: Sequence[DriverRow], *, target_l_m2: Number) -> DriverRow:
    """The row whose rate is nearest the target, of several the slowest. ValueError without rows, or a target of zero or less."""
    target = above_zero(target_l_m2, "The rate")
    if not rows:
        raise ValueError("The driver's table has no rows.")
    return min(rows, key=lambda row: (round(abs(row.rate_l_m2 - target), 9), row.speed_km_h))


def christiansen_uniformity(catches: Sequence[Number]) -> float:
    """Per cent, 100 (1 - sum |x - mean| / (n mean)) (SP-01, SP-02, VERIFIED-S). It can be below zero.

    catches: cups of one size, in any one unit. ValueError for no cups, one below zero, or all of them dry.
    """
    cups, mean = _catches(catches)
    return 100 * (1 - math.fsum(abs(cup - mean) for cup in cups) / (len(cups) * mean))


def low_quarter_uniformity(catches: Sequence[Number]) -> float:
    """Per cent, the mean of the lowest quarter over the mean of all (SP-03, VERIFIED-S; SP-04, COMPUTED).

    The quarter is `low_quarter_cups`. ValueError as `christiansen_uniformity`.
    """
    cups, mean = _catches(catches)
    lowest = sorted(cups)[: low_quarter_cups(len(cups))]
    return 100 * math.fsum(lowest) / len(lowest) / mean


def low_quarter_cups(cups: int) -> int:
    """How many cups are the lowest quarter: a quarter rounded to the nearest, halves to even, at least 1. Another rule moves the
    figure (X-11), so it is printed with this number."""
    return max(1, round(cups / 4))


def _catches(catches: Sequence[Number]) -> tuple[list[float], float]:
    cups = [not_below_zero(catch, "A catch") for catch in catches]
    if not cups or not any(cups):
        raise ValueError("Evenness wants at least one cup with water in it.")
    return cups, math.fsum(cups) / len(cups)


def flow_deviation(*, measured_l_min: Number, nominal_l_min: Number) -> float:
    """(measured - nominal) / nominal, a share: -0.1 is a tenth too little. ValueError for a flow below zero, or a nominal of
    zero or less."""
    nominal = above_zero(nominal_l_min, "The flow when new")
    return (not_below_zero(measured_l_min, "The measured flow") - nominal) / nominal


def out_of_range(*, application_l_m2: Number) -> tuple[str, ...]:
    """Sentences for a rate outside what trials saw water carts lay (RT-05, RT-06, VERIFIED-P). ValueError below zero."""
    rate, (least, most) = not_below_zero(application_l_m2, "The rate"), TRIAL_L_M2
    if rate < least:
        return (
            f"{plain(rate)} L/m² is under the {least:g} to {most:g} L/m² of haul-road trials: it may be dry at once.",
        )
    if rate > most:
        return (
            f"{plain(rate)} L/m² is over the {least:g} to {most:g} L/m² of haul-road trials: the road may be slippery.",
        )
    return ()
