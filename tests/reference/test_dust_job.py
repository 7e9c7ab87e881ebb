"""A watering job's day as docs/dust.md works it, by hand (WE-12, COMPUTED; the rest common practice, no source)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.water.dust_job import Range, emission_kg_a_day, job_need
from tests.worked import tables

RANGES = {
    "area_m2": Range(8000, 10_000, 12_000),
    "evaporation_mm_h": Range(0.2, 0.4, 0.6),
    "vehicles_per_h": Range(10, 20, 40),
    "cycle_min": Range(40, 50, 90),
}


def job(**changed):
    usual = {**RANGES, "target_control_pct": 75, "application_l_m2": 0.5, "load_l": 10_000, "hours_a_day": 10}
    return job_need(**{**usual, **changed})


@pytest.mark.parametrize("row", tables("dust.md", "A job's day")[0], ids=" ".join)
def test_a_jobs_day(row):
    which, hours, passes, litres, loads, carts, control = row
    found = getattr(job(), which)
    assert (found.passes, found.loads, found.carts) == (int(passes), int(loads), int(carts))
    assert found.hours_between == pytest.approx(float(hours), abs=5e-7)
    assert found.litres == pytest.approx(float(litres))
    assert found.control_pct == pytest.approx(float(control), abs=5e-5)


@pytest.mark.parametrize(
    ("target", "hours", "passes", "loads", "carts"),
    [
        pytest.param(93.6, 10, 3, 180, 9, id="by the day: 180 rounds of half an hour in 10 h"),
        pytest.param(93.6, 16, 4, 240, 8, id="60 rounds in each 4 h, 7.5 carts"),
        pytest.param(93.6, 4.4, 2, 120, 14, id="by the day: 120 rounds in 4.4 h are 13.6 carts"),
        pytest.param(84, 11, 2, 120, 6, id="120 rounds in 11 h are 5.5 carts"),
        pytest.param(50, 10, 1, 60, 3, id="one pass, 60 rounds in 10 h"),
    ],
)
def test_carts_enough_for_day_and_pass(target, hours, passes, loads, carts):
    """By hand: 300,000 L a pass, 60 loads of 5,000 L, half an hour a round; the interval is 4 h, 10 h or 31.25 h."""
    one, round_min = Range(1, 1, 1), Range(30, 30, 30)
    need = job(
        area_m2=Range(600_000, 600_000, 600_000), evaporation_mm_h=one, vehicles_per_h=one, cycle_min=round_min,
        target_control_pct=target, load_l=5000, hours_a_day=hours,
    ).likely  # fmt: skip
    assert need.hours_between == pytest.approx({93.6: 4, 84: 10, 50: 31.25}[target])
    assert (need.passes, need.loads, need.carts) == (passes, loads, carts)


positive = st.floats(0.01, 50)


@st.composite
def ranges(draw):
    return Range(*sorted((draw(positive), draw(positive), draw(positive))))


@given(
    area=ranges(),
    evaporation=ranges(),
    vehicles=ranges(),
    cycle=ranges(),
    target=st.floats(0, 99),
    rate=st.floats(0.1, 2),
)
def test_low_is_never_over_high(*, area, evaporation, vehicles, cycle, target, rate):
    found = job(
        area_m2=area, evaporation_mm_h=evaporation, vehicles_per_h=vehicles, cycle_min=cycle, target_control_pct=target,
        application_l_m2=rate, load_l=3,
    )  # fmt: skip
    for less, more in ((found.low, found.likely), (found.likely, found.high)):
        assert less.hours_between >= more.hours_between
        assert less.passes <= more.passes
        assert less.litres <= more.litres + 1e-9
        assert less.loads <= more.loads
        assert less.carts <= more.carts
    assert found.likely.control_pct >= target - 1e-6
    likely = found.likely
    minutes_a_pass = likely.litres / likely.passes / 3 * cycle.likely
    assert likely.carts * min(likely.hours_between, 10) * 60 >= minutes_a_pass * (1 - 1e-9)


def test_kilos_a_day():
    assert emission_kg_a_day(g_per_vkt=712.6, vehicle_km_a_day=100) == pytest.approx(71.26)
    assert emission_kg_a_day(g_per_vkt=712.6, vehicle_km_a_day=100, control_pct=75) == pytest.approx(17.815)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: job(load_l=0),
        lambda: job(load_l="ten"),
        lambda: job(hours_a_day=None),
        lambda: job(hours_a_day=0),
        lambda: job(hours_a_day=25),
        lambda: Range(2, 1, 3),
        lambda: Range(0, 1, 2),
        lambda: Range(1, 1, math.nan),
        lambda: emission_kg_a_day(g_per_vkt=-1, vehicle_km_a_day=1),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
