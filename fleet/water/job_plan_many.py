"""The plan of one job by every cart of a fleet at once: the figures of `fleet.water.job_plan.plan_cart`, by NumPy arrays of one
cart a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.water.job_plan import Job, fill_flow
from fleet.water.spray_sheet import Opening, SpraySheet, open_flow
from fleet.water.spraying_many import (
    driver_rows_many,
    load_cycle_many,
    nearest_many,
    whole_loads_many,
    whole_up_many,
)
from fleet.water.tank_many import Floats

Ints = NDArray[np.int_]


@dataclass(frozen=True)
class Days:
    """As `fleet.water.job_plan.Day`, a cart a place."""

    cycle_min: Floats
    litres: Floats
    loads: Ints
    carts: Ints
    loads_each: Ints


@dataclass(frozen=True)
class Plans:
    """place: the carts that can do the job, by their place in what was asked; all else is of those, in that order. row: of the
    cart's table, gear by gear and in each rpm by rpm."""

    place: Ints
    row: Ints
    speed_km_h: Floats
    flow_l_min: Floats
    rate_l_m2: Floats
    load_l: Floats
    low: Days
    likely: Days
    high: Days

    def in_order(self, names: Sequence[str]) -> Ints:
        """Places in these arrays, as `fleet.water.job_plan.in_order` has them; names: of all the carts that were asked."""
        vain = self.likely.loads * self.load_l - self.likely.litres
        of_these = np.array(names)[self.place]
        return np.lexsort((of_these, vain, self.likely.carts))


def plan_many(job: Job, sheets: Sequence[SpraySheet], *, tank_l: ArrayLike) -> Plans:
    """The job by each of the carts; one without such a choice of heads, whose pump draws nothing, whose fill is not known, or whose
    round is longer than the day, is not among the answer: `plan_cart` says why."""
    load = np.asarray(tank_l, dtype=float) - np.array([sheet.dead_l for sheet in sheets], dtype=float)
    flows = [fill_flow(job, sheet) for sheet in sheets]
    openings = [sheet.opening_named(job.heads) for sheet in sheets]
    known = [None not in (flow, opening) for flow, opening in zip(flows, openings, strict=True)]
    place = np.flatnonzero((load > 0) & np.array(known, dtype=bool))
    drawn = [(sheets[n], opening) for n in place.tolist() if (opening := openings[n])]
    row, speed, flow, rate = _nearest(drawn, job.target_l_m2)
    fill = np.array([flows[n] for n in place.tolist()], dtype=float)
    days = []
    for area, km, km_h, other in job.days:
        cycle = load_cycle_many(
            load_l=load[place], fill_l_min=fill, haul_km=km, haul_km_h=km_h, spray_l_min=flow, other_min=other
        )
        days.append(
            (area * rate * job.passes, cycle, whole_loads_many(cycle_min=cycle, shift_h=job.hours_a_day))
        )
    fits = np.logical_and.reduce([rounds > 0 for _, _, rounds in days])
    low, likely, high = (
        _days(litres[fits], load[place][fits], cycle[fits], rounds[fits]) for litres, cycle, rounds in days
    )
    return Plans(
        place[fits], row[fits], speed[fits], flow[fits], rate[fits], load[place][fits], low, likely, high
    )


def _days(litres: Floats, load_l: Floats, cycle_min: Floats, rounds: Ints) -> Days:
    loads = whole_up_many(litres / load_l)
    carts = whole_up_many(loads / rounds)
    return Days(cycle_min, litres, loads, carts, whole_up_many(loads / carts))


def _nearest(
    sheets: Sequence[tuple[SpraySheet, Opening]], target: float
) -> tuple[Ints, Floats, Floats, Floats]:
    """Row, speed, flow and rate of each cart's row that lays nearest the target, of several the slowest."""
    rows: list[tuple[float, ...]] = []
    first: list[int] = []
    for cart, (sheet, opening) in enumerate(sheets):
        flow, by_engine = open_flow(sheet, opening).flow_l_min, sheet.pump == "engine"
        first.append(len(rows))
        rows += [
            (
                cart, gear.speed_km_h, sheet.gears_rpm, rpm, flow, sheet.pump_rpm, opening.width_m or gear.width_m, by_engine,
            )
            for gear in sheet.gears for rpm in sheet.rpms
        ]  # fmt: skip
    table = np.array(rows, dtype=float).reshape(-1, 8).T
    speed, flows, rate = driver_rows_many(
        gear_km_h=table[1], gears_at_rpm=table[2], rpm=table[3], flow_l_min=table[4], flow_at=table[5], width_m=table[6],
        by_engine=table[7] > 0,
    )  # fmt: skip
    best = nearest_many(
        cart=table[0].astype(int), rate_l_m2=rate, speed_km_h=speed, target_l_m2=target, carts=len(sheets)
    )
    return best - np.array(first, dtype=int), speed[best], flows[best], rate[best]
