"""Rows, rounds, loads and carts of a whole fleet at once: the figures of `fleet.water.spraying` and
`fleet.water.dust_job.job_need`, by NumPy arrays of one cart a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.water.measured import above_zero, not_below_zero, whole
from fleet.water.spraying import M_PER_MIN
from fleet.water.tank_many import Floats, refuse_where


@dataclass(frozen=True)
class CartNeeds:
    """For one job, were it done by this cart alone: minutes a round, loads a day the job takes, carts of this kind it takes."""

    cycle_min: Floats
    loads: NDArray[np.int_]
    carts: NDArray[np.int_]


def load_cycle_many(
    *,
    load_l: ArrayLike,
    fill_l_min: ArrayLike,
    haul_km: float,
    haul_km_h: ArrayLike,
    spray_l_min: ArrayLike,
    other_min: float = 0.0,
) -> Floats:
    """Minutes of each cart's round. ValueError as `load_cycle`, naming the first cart at fault by its place."""
    load, fill, speed, spray = (
        np.asarray(each, dtype=float) for each in (load_l, fill_l_min, haul_km_h, spray_l_min)
    )
    for values, what in ((load, "load"), (fill, "flow of filling"), (speed, "speed"), (spray, "flow")):
        refuse_where(~(np.isfinite(values) & (values > 0)), f"the {what} has to be above zero.")
    not_below_zero(haul_km, "The distance")
    not_below_zero(other_min, "The other minutes")
    return np.asarray(load / fill + 120 * haul_km / speed + load / spray + other_min)


def carts_needed_many(
    *,
    litres_a_pass: float,
    passes: int,
    hours_a_day: float,
    load_l: ArrayLike,
    cycle_min: ArrayLike,
) -> CartNeeds:
    """The needs of one job by each cart, as `job_need` has them for one. ValueError for what is not above zero."""
    load, cycle = np.asarray(load_l, dtype=float), np.asarray(cycle_min, dtype=float)
    refuse_where(
        ~(np.isfinite(load) & (load > 0) & np.isfinite(cycle) & (cycle > 0)),
        "the load and the round have to be above zero.",
    )
    whole(passes, 1, "A day has at least one pass, and whole ones.")
    for value, what in (
        (litres_a_pass, "The litres a pass"),
        (hours_a_day, "The hours a day"),
    ):
        above_zero(value, what)
    loads = whole_up_many(litres_a_pass * passes / load)
    return CartNeeds(cycle, loads, whole_up_many(loads * cycle / (hours_a_day * 60)))


def driver_rows_many(
    *,
    gear_km_h: Floats,
    gears_at_rpm: Floats,
    rpm: Floats,
    flow_l_min: Floats,
    flow_at: Floats,
    width_m: Floats,
    by_engine: NDArray[np.bool_],
) -> tuple[Floats, Floats, Floats]:
    """(km/h, L/min, L/m2) of rows of drivers' tables, a row a place, as `driver_rows` has them; by_engine: whose pump is. The
    sheets they are of were checked when they were made."""
    speed = rpm * (gear_km_h / gears_at_rpm)
    flow = np.where(by_engine, flow_l_min * rpm / flow_at, flow_l_min)
    return speed, flow, flow / (speed * M_PER_MIN * width_m)


def nearest_many(
    *, cart: NDArray[np.int_], rate_l_m2: Floats, speed_km_h: Floats, target_l_m2: float, carts: int
) -> NDArray[np.int_]:
    """For each of so many carts the place of its row that lays nearest the target, of several the slowest, as `nearest_to`; each
    has a row at least."""
    order = np.lexsort((speed_km_h, np.round(np.abs(rate_l_m2 - target_l_m2), 9), cart))
    return np.asarray(order[np.searchsorted(cart[order], np.arange(carts))])


def whole_loads_many(*, cycle_min: Floats, shift_h: float) -> NDArray[np.int_]:
    """Whole rounds of each cart in a shift, as `load_cycle` counts them. ValueError for a shift of zero or less."""
    loads = above_zero(shift_h, "The shift") * 60 / cycle_min
    return np.floor(loads * (1 + 1e-12)).astype(int)


def whole_up_many(count: Floats) -> NDArray[np.int_]:
    """As `whole_up`, a count a place."""
    near = np.rint(count)
    return np.where(np.isclose(count, near, rtol=1e-12, atol=0), near, np.ceil(count)).astype(int)
