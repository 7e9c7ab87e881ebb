"""Dip tables, road fills and the needs of one job for a fleet of 10,000 carts, against the same by plain NumPy.

    python -m tests.bench.bench_water [--carts 10000] [--rounds 15]

The rival is the bare textbook formula over whole arrays: no look at what came in, no ties, no table's own length. For depths it is
NumPy's interpolation in a table of 2,000 rows, good to some tenths of a millimetre. Read the ratios; the milliseconds are this
machine's.
"""

import argparse
from dataclasses import dataclass

import numpy as np

from fleet.water.loading_many import legal_fill_many
from fleet.water.spraying_many import carts_needed_many, load_cycle_many
from fleet.water.tank_many import Tanks, depth_m_many, dip_table_many
from tests.bench.timing import medians_ms

CARTS = 10_000
STEP_MM = 20
JOB = {"litres_a_pass": 45_000, "passes": 6, "hours_a_day": 10}


@dataclass(frozen=True)
class Fleet:
    tanks: Tanks
    loading: dict[str, np.ndarray]
    load_l: np.ndarray
    fill_l_min: np.ndarray
    haul_km_h: np.ndarray
    spray_l_min: np.ndarray


def fleet_of(carts: int) -> Fleet:
    chance = np.random.default_rng(47)
    shape = chance.choice(["cylinder", "ellipse", "box"], carts)
    height = chance.uniform(1.2, 2.2, carts)
    width = np.where(shape == "cylinder", height, chance.uniform(1.5, 2.5, carts))
    tanks = Tanks(shape, chance.uniform(3, 6, carts), width, height)
    tare = np.column_stack([chance.uniform(4400, 5600, carts), chance.uniform(4800, 6400, carts)])
    limit = np.column_stack([np.full(carts, 6500.0), chance.choice([14_000.0, 16_500.0], carts)])
    loading = {
        "tare_kg": tare,
        "limit_kg": limit,
        "position_m": np.column_stack([np.zeros(carts), np.full(carts, 5.0)]),
        "gross_limit_kg": chance.choice([20_000.0, 22_500.0], carts),
        "tank_centroid_m": chance.uniform(3.6, 5, carts),
        "capacity_l": chance.uniform(3000, 20_000, carts),
    }
    return Fleet(
        tanks,
        loading,
        tanks.capacity_l - 300,
        chance.uniform(600, 1500, carts),
        chance.uniform(20, 60, carts),
        chance.uniform(300, 1200, carts),
    )


def plain_dips(tanks: Tanks) -> np.ndarray:
    depth = np.arange(0, tanks.height_m.max() * 1000 + STEP_MM, STEP_MM) / 1000
    share = np.clip(depth / tanks.height_m[:, None], 0, 1)
    round_share = (np.arccos(1 - 2 * share) - (1 - 2 * share) * 2 * np.sqrt(share - share**2)) / np.pi
    return tanks.capacity_l[:, None] * np.where(tanks.is_box[:, None], share, round_share)


def plain_depths(tanks: Tanks, volume_l: np.ndarray) -> np.ndarray:
    share = np.linspace(0, 1, 2000)
    full = (np.arccos(1 - 2 * share) - (1 - 2 * share) * 2 * np.sqrt(share - share**2)) / np.pi
    wanted = volume_l / tanks.capacity_l
    return tanks.height_m * np.where(tanks.is_box, wanted, np.interp(wanted, full, share))


def plain_fills(loading: dict[str, np.ndarray]) -> np.ndarray:
    rear = loading["tank_centroid_m"] / loading["position_m"][:, 1]
    room = loading["limit_kg"] - loading["tare_kg"]
    gross = loading["gross_limit_kg"] - loading["tare_kg"].sum(axis=1)
    fills = np.minimum(np.minimum(room[:, 0] / (1 - rear), room[:, 1] / rear), gross)
    return np.minimum(fills, loading["capacity_l"])


def plain_carts(fleet: Fleet) -> np.ndarray:
    cycle = fleet.load_l / fleet.fill_l_min + 360 / fleet.haul_km_h + fleet.load_l / fleet.spray_l_min
    loads = np.ceil(JOB["litres_a_pass"] * JOB["passes"] / fleet.load_l)
    return np.ceil(loads * cycle / (JOB["hours_a_day"] * 60))


def our_carts(fleet: Fleet) -> np.ndarray:
    cycle = load_cycle_many(
        load_l=fleet.load_l, fill_l_min=fleet.fill_l_min, haul_km=3, haul_km_h=fleet.haul_km_h,
        spray_l_min=fleet.spray_l_min,
    )  # fmt: skip
    return carts_needed_many(**JOB, load_l=fleet.load_l, cycle_min=cycle).carts


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--carts", type=int, default=CARTS)
    parser.add_argument("--rounds", type=int, default=15)
    options = parser.parse_args()
    fleet = fleet_of(options.carts)
    tanks, half = fleet.tanks, fleet.tanks.capacity_l * 0.43
    dips = dip_table_many(tanks, step_mm=STEP_MM)[1]
    assert np.allclose(np.nanmax(dips, axis=1), plain_dips(tanks).max(axis=1)), "A full tank is not full."
    assert np.allclose(depth_m_many(tanks, half), plain_depths(tanks, half), atol=1e-4), "Depths differ."
    assert np.allclose(legal_fill_many(**fleet.loading).litres, plain_fills(fleet.loading)), "Fills differ."
    assert np.array_equal(our_carts(fleet), plain_carts(fleet)), "Carts differ."
    print(f"{options.carts} carts, dips every {STEP_MM} mm: {np.count_nonzero(~np.isnan(dips))} rows")
    for name, ours, plain in (
        ("dip tables", lambda: dip_table_many(tanks, step_mm=STEP_MM), lambda: plain_dips(tanks)),
        ("depths of a fill", lambda: depth_m_many(tanks, half), lambda: plain_depths(tanks, half)),
        ("road fills", lambda: legal_fill_many(**fleet.loading), lambda: plain_fills(fleet.loading)),
        ("carts for a job", lambda: our_carts(fleet), lambda: plain_carts(fleet)),
    ):
        mine, theirs = medians_ms(options.rounds, ours, plain)
        print(f"{name} {mine:.2f} ms, plain NumPy {theirs:.2f} ms: ratio {mine / theirs:.2f}", flush=True)


if __name__ == "__main__":
    main()
