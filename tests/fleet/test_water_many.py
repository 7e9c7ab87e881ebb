"""A fleet's figures at once are those of each cart alone."""

import numpy as np
import pytest

from fleet.water.dust_job import Range, job_need
from fleet.water.loading import AxleGroup, legal_fill
from fleet.water.loading_many import legal_fill_many
from fleet.water.spraying import load_cycle
from fleet.water.spraying_many import carts_needed_many, load_cycle_many
from fleet.water.tank import Tank
from fleet.water.tank_many import Tanks, depth_m_many, dip_table_many, volume_l_many
from tests.bench.bench_water import CARTS, fleet_of

YARD = fleet_of(300)
SHARES = np.concatenate([[0, 1, 0.5, 1e-12, 1 - 1e-12], np.random.default_rng(3).uniform(0, 1, 295)])
BINDING = ("front", "rear", "gross", "none")


def alone(place: int) -> Tank:
    tanks = YARD.tanks
    return Tank(
        str(tanks.shape[place]),
        float(tanks.length_m[place]),
        float(tanks.width_m[place]),
        float(tanks.height_m[place]),
    )


def test_the_bench_is_for_ten_thousand():
    assert CARTS == 10_000


def test_litres_and_depths():
    tanks = YARD.tanks
    volumes = volume_l_many(tanks, SHARES * tanks.height_m)
    depths = depth_m_many(tanks, SHARES * tanks.capacity_l)
    for place in range(300):
        tank = alone(place)
        assert volumes[place] == pytest.approx(tank.volume_l(SHARES[place] * tank.height_m), abs=1e-6)
        assert depths[place] == pytest.approx(
            tank.depth_m(min(SHARES[place] * tank.capacity_l, tank.capacity_l)), abs=1e-7
        )


def test_dip_tables():
    depths, litres = dip_table_many(YARD.tanks, step_mm=25)
    for place in range(300):
        rows = alone(place).dip_table(25)
        is_row = ~np.isnan(depths[place])
        assert depths[place][is_row] == pytest.approx([row.depth_mm for row in rows])
        assert litres[place][is_row] == pytest.approx([row.litres for row in rows], abs=1e-6)
        assert np.isnan(litres[place][~is_row]).all()


def test_road_fills():
    found = legal_fill_many(**YARD.loading)
    loading = {name: np.asarray(values) for name, values in YARD.loading.items()}
    for place in range(300):
        one = legal_fill(
            groups=[
                AxleGroup(
                    name,
                    float(loading["tare_kg"][place, n]),
                    float(loading["limit_kg"][place, n]),
                    float(loading["position_m"][place, n]),
                )
                for n, name in enumerate(("front", "rear"))
            ],
            gross_limit_kg=float(loading["gross_limit_kg"][place]),
            tank_centroid_m=float(loading["tank_centroid_m"][place]),
            capacity_l=float(loading["capacity_l"][place]),
        )
        assert (found.litres[place], found.mass_kg[place]) == pytest.approx((one.litres, one.mass_kg))
        assert BINDING[found.binding[place]] == one.binding
        assert found.loads_kg[place] == pytest.approx(list(one.group_loads_kg.values()))
    assert set(found.binding) == {0, 1, 2, 3}


def test_ties_and_tanks_of_unknown_size():
    rows = {"tare_kg": [[5000, 5600]] * 4, "position_m": [[0, 5]] * 4, "tank_centroid_m": [4] * 4}
    found = legal_fill_many(
        **rows,
        limit_kg=[[6000, 9600], [7000, 9600], [6000, 16_500], [6000, 16_500]],
        gross_limit_kg=[15_600, 15_600, 22_500, 22_500],
        capacity_l=[np.nan, np.nan, 5000, 4000],
    )
    assert list(found.binding) == [0, 1, 0, 3]
    assert list(found.litres) == pytest.approx([5000, 5000, 5000, 4000])


def test_rounds_and_carts():
    load, fill, speed, spray = YARD.load_l, YARD.fill_l_min, YARD.haul_km_h, YARD.spray_l_min
    cycle = load_cycle_many(
        load_l=load, fill_l_min=fill, haul_km=3, haul_km_h=speed, spray_l_min=spray, other_min=8
    )
    job = {"target_control_pct": 75, "application_l_m2": 0.5, "hours_a_day": 10}
    ranges = {"evaporation_mm_h": Range(0.4, 0.4, 0.4), "vehicles_per_h": Range(20, 20, 20)}
    for place in range(300):
        alone = load_cycle(
            load_l=float(load[place]), fill_l_min=float(fill[place]), haul_km=3, haul_km_h=float(speed[place]),
            spray_l_min=float(spray[place]), shift_h=10, other_min=8,
        )  # fmt: skip
        assert cycle[place] == pytest.approx(alone.cycle_min)
        minutes = float(cycle[place])
        need = job_need(
            **job,
            **ranges,
            area_m2=Range(90_000, 90_000, 90_000),
            cycle_min=Range(minutes, minutes, minutes),
            load_l=float(load[place]),
        ).likely
        many = carts_needed_many(
            litres_a_pass=45_000, passes=need.passes, hours_a_day=10, load_l=load,
            cycle_min=cycle,
        )  # fmt: skip
        assert (many.loads[place], many.carts[place]) == (need.loads, need.carts)


ONE = Tanks(np.array(["box"]), np.array([4.0]), np.array([2.0]), np.array([1.5]))
LOADING = {
    "tare_kg": [[5000, 5600]],
    "limit_kg": [[6000, 16_500]],
    "position_m": [[0, 5]],
    "gross_limit_kg": [22_500],
    "tank_centroid_m": [4],
}


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Tanks(np.array(["ball"]), np.array([4.0]), np.array([2.0]), np.array([1.5])),
        lambda: Tanks(np.array(["cylinder"]), np.array([4.0]), np.array([2.0]), np.array([1.5])),
        lambda: Tanks(np.array(["box"]), np.array([np.nan]), np.array([2.0]), np.array([1.5])),
        lambda: volume_l_many(ONE, [1.51]),
        lambda: volume_l_many(ONE, [np.nan]),
        lambda: depth_m_many(ONE, [12_001]),
        lambda: dip_table_many(ONE, step_mm=0.5),
        lambda: dip_table_many(ONE, step_mm=np.nan),
        lambda: legal_fill_many(**{**LOADING, "tank_centroid_m": [5.1]}),
        lambda: legal_fill_many(**{**LOADING, "limit_kg": [[4999, 16_500]]}),
        lambda: legal_fill_many(**{**LOADING, "tare_kg": [[np.nan, 5600]]}),
        lambda: legal_fill_many(**{**LOADING, "gross_limit_kg": [10_599]}),
        lambda: legal_fill_many(**{**LOADING, "position_m": [[5, 5]]}),
        lambda: legal_fill_many(**{**LOADING, "position_m": [[0, 5, 9]]}),
        lambda: legal_fill_many(**LOADING, density_kg_m3=0),
        lambda: legal_fill_many(**LOADING, capacity_l=[0]),
        lambda: load_cycle_many(load_l=[1], fill_l_min=[0], haul_km=1, haul_km_h=[1], spray_l_min=[1]),
        lambda: load_cycle_many(load_l=[1], fill_l_min=[1], haul_km=-1, haul_km_h=[1], spray_l_min=[1]),
        lambda: carts_needed_many(litres_a_pass=1, passes=0, hours_a_day=1, load_l=[1], cycle_min=[1]),
        lambda: carts_needed_many(litres_a_pass=1, passes=1, hours_a_day=1, load_l=[np.inf], cycle_min=[1]),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
