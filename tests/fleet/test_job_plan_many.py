"""A job planned for a fleet at once is planned as for each cart alone: the same rows, days and order, the same carts left out."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.water.job_plan import Ends, Job, in_order, plan_cart
from fleet.water.job_plan_many import plan_many
from fleet.water.spray_sheet import Gear, Head, Opening, SpraySheet

AMOUNT = st.floats(50, 2000)


@st.composite
def sheets(draw):
    gears = draw(st.lists(st.tuples(st.floats(3, 40), st.floats(2, 12)), min_size=1, max_size=4))
    heads = draw(st.lists(AMOUNT, min_size=1, max_size=6))
    other = draw(st.sampled_from(["first", "second"]))
    names = [f"head {n}" for n in range(len(heads))]
    return SpraySheet(
        pump=draw(st.sampled_from(["engine", "own engine"])), pump_l_min=draw(AMOUNT), pump_kpa=draw(AMOUNT), pump_rpm=1500,
        gears_rpm=1500, rpms=tuple(draw(st.lists(st.integers(700, 2200), min_size=1, max_size=4))), head_kpa=draw(AMOUNT),
        fill_l_min=draw(st.none() | AMOUNT), dead_l=draw(st.sampled_from([0.0, 180.0, 900.0, 9000.0])),
        gears=tuple(Gear(f"gear {n}", speed, width) for n, (speed, width) in enumerate(gears)),
        heads=tuple(Head(name, "fan", flow) for name, flow in zip(names, heads, strict=True)),
        openings=(
            Opening("all", tuple(names), draw(st.none() | st.floats(2, 12))), Opening(other, (names[0],), None)
        ),
    )  # fmt: skip


@st.composite
def jobs(draw):
    area, km, km_h, other = (draw(st.floats(*ends)) for ends in ((1000, 90_000), (0, 40), (5, 60), (0, 60)))
    return Job(
        area_m2=Ends(area * 0.8, area, area * 1.2), passes=draw(st.integers(1, 12)), target_l_m2=draw(st.floats(0.1, 3)),
        haul_km=Ends(km, km, km), haul_km_h=Ends(km_h * 0.5, km_h, km_h * 1.5), other_min=Ends(0, other, other * 2),
        hours_a_day=draw(st.sampled_from([0.5, 8, 10, 24])), fill_l_min=draw(st.none() | AMOUNT),
        heads=draw(st.sampled_from(["", "all", "first", "second"])),
    )  # fmt: skip


def alone(job, carts):
    found = {}
    for place, (sheet, tank_l) in enumerate(carts):
        try:
            found[place] = plan_cart(job, sheet, name=f"WC-{place}", tank_l=tank_l)
        except ValueError:
            continue
    return found


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(job=jobs(), carts=st.lists(st.tuples(sheets(), st.floats(500, 20_000)), max_size=8))
def test_the_figures_of_each_cart_alone(job, carts):
    many = plan_many(job, [sheet for sheet, _ in carts], tank_l=[litres for _, litres in carts])
    one = alone(job, carts)
    assert many.place.tolist() == sorted(one)
    for n, place in enumerate(many.place.tolist()):
        plan = one[place]
        assert plan.rows[many.row[n]] == plan.row
        assert (many.speed_km_h[n], many.flow_l_min[n], many.rate_l_m2[n], many.load_l[n]) == pytest.approx(
            (plan.row.driver.speed_km_h, plan.row.driver.flow_l_min, plan.rate_l_m2, plan.load_l)
        )
        for name in ("low", "likely", "high"):
            day, days = getattr(plan, name), getattr(many, name)
            assert (days.cycle_min[n], days.litres[n]) == pytest.approx((day.cycle.cycle_min, day.litres))
            assert (days.loads[n], days.carts[n], days.loads_each[n]) == (
                day.loads,
                day.carts,
                day.loads_each,
            )


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(job=jobs(), carts=st.lists(st.tuples(sheets(), st.floats(9_100, 20_000)), max_size=8))
def test_the_order_of_carts_alone(job, carts):
    names = [f"WC-{place}" for place in range(len(carts))]
    many = plan_many(job, [sheet for sheet, _ in carts], tank_l=[litres for _, litres in carts])
    found = [names[many.place[n]] for n in many.in_order(names)]
    by_name = {plan.name: plan for plan in alone(job, carts).values()}
    # Litres in vain that differ by the last bits of a float alone may stand either way about.
    keys = [(by_name[name].likely.carts, vain(by_name[name])) for name in found]
    wanted = [(plan.likely.carts, vain(plan)) for plan in in_order(list(by_name.values()))]
    assert keys == wanted


def vain(plan):
    return round(plan.likely.loads * plan.load_l - plan.likely.litres, 3)


def test_of_rows_that_lay_alike_the_slowest_counts_and_of_carts_alike_the_first_name():
    sheet = SpraySheet(
        pump="engine", pump_l_min=600, pump_kpa=200, pump_rpm=1500, gears_rpm=1500, rpms=(1500, 1200), head_kpa=200,
        fill_l_min=1000, dead_l=500, gears=(Gear("Second", 8, 6),), heads=(Head("a", "fan", 640),),
        openings=(Opening("all", ("a",)),),
    )  # fmt: skip
    one = Ends(1, 1, 1)
    job = Job(Ends(16000, 16000, 16000), 6, 0.75, one, Ends(30, 30, 30), one, 10)
    many = plan_many(job, [sheet, sheet, replace(sheet, dead_l=90_000)], tank_l=[12_500] * 3)
    assert many.row.tolist() == [1, 1]
    assert many.in_order(["WC-2", "WC-1", "WC-0"]).tolist() == [1, 0]
