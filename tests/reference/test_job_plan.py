"""The worked tables of docs/job-plan.md, and what a plan refuses."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.water.job_plan import Ends, Job, area_of, back_words, in_order, plan_cart, spread
from tests.reference.test_spray_sheet import sheet
from tests.worked import tables


def job(**changed):
    def one(value):
        return Ends(value, value, value)

    said = {
        "area_m2": one(16000), "passes": 1, "target_l_m2": 0.75, "haul_km": one(3), "haul_km_h": one(30), "other_min": one(6),
        "hours_a_day": 10,
    }  # fmt: skip
    return Job(**said | changed)


def plan(it):
    return plan_cart(it, sheet(), name="WC-07", tank_l=12_500)


def found(day):
    return day.cycle.cycle_min, day.litres, day.loads, day.carts, day.loads_each


@pytest.mark.parametrize("row", tables("job-plan.md", "Worked")[0], ids=" ".join)
def test_a_days_work(row):
    area, passes, wanted, fill, gear, rate, *figures = row
    it = job(
        area_m2=Ends(float(area), float(area), float(area)), passes=int(passes), target_l_m2=float(wanted),
        fill_l_min=float(fill) if fill else None,
    )  # fmt: skip
    made = plan(it)
    assert f"{made.row.driver.gear} {made.row.driver.rpm:g}" == gear
    assert made.rate_l_m2 == pytest.approx(float(rate))
    assert found(made.likely) == pytest.approx([float(figure) for figure in figures])


def test_low_and_high_of_the_ranges():
    it = job(
        area_m2=Ends(21600, 24000, 26400), passes=8, target_l_m2=0.5, haul_km_h=Ends(20, 30, 40), other_min=Ends(0, 6, 20)
    )  # fmt: skip
    made, rows = plan(it), tables("job-plan.md", "Worked")[1]
    for name, *figures in rows:
        assert found(getattr(made, name)) == pytest.approx([float(figure) for figure in figures]), name
    assert back_words(made) == "Back every 55 min, 8 loads"


@pytest.mark.parametrize("row", tables("job-plan.md", "Worked")[2], ids=" ".join)
def test_a_day_with_other_heads_open(row):
    heads, area, passes, wanted, gear, rate, *figures = row
    area = Ends(float(area), float(area), float(area))
    made = plan(job(area_m2=area, passes=int(passes), target_l_m2=float(wanted), heads=heads))
    assert made.opening.name == heads
    assert f"{made.row.driver.gear} {made.row.driver.rpm:g}" == gear
    assert made.rate_l_m2 == pytest.approx(float(rate))
    assert found(made.likely) == pytest.approx([float(figure) for figure in figures])


def test_heads_a_cart_has_not_are_refused_with_those_it_has():
    with pytest.raises(
        ValueError, match=r"WC-07 has no choice of heads called “Cannon”\. It has “All”, “Rear only”"
    ):
        plan(job(heads="Cannon"))
    assert plan(job(heads="rear ONLY")).opening.name == "Rear only"


# Three runs of the suite at once make drawing slow, which says nothing of the rule.
@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    area=st.floats(100, 1e6), passes=st.integers(1, 20), km=st.floats(0, 20), km_h=st.floats(5, 60), other=st.floats(0, 60),
    pct=st.floats(0, 90),
)  # fmt: skip
def test_the_likely_need_lies_between_the_low_and_the_high(**drawn):
    km, km_h, other = drawn["km"], drawn["km_h"], drawn["other"]
    it = job(
        area_m2=spread(drawn["area"], pct=drawn["pct"], what="Area"), passes=drawn["passes"], haul_km=Ends(km, km, km),
        haul_km_h=Ends(km_h * 0.5, km_h, km_h * 2), other_min=Ends(0, other, other * 2), hours_a_day=24,
    )  # fmt: skip
    made = plan(it)
    for what in ("litres", "loads", "carts"):
        low, likely, high = (getattr(day, what) for day in (made.low, made.likely, made.high))
        assert low <= likely <= high
    # Nobody is asked for more loads than fit into the day.
    for day in (made.low, made.likely, made.high):
        assert day.loads_each <= day.cycle.whole_loads
        assert day.carts * day.loads_each >= day.loads


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"passes": 0}, "at least one pass"),
        ({"target_l_m2": 0}, "The rate has to be above zero"),
        ({"hours_a_day": 0}, "The hours a day has to be above zero"),
        ({"hours_a_day": 25}, "The hours a day has to be between 0 and 24"),
        ({"haul_km_h": Ends(0, 0, 0)}, "The speed on the way has to be above zero"),
        ({"area_m2": Ends(0, 0, 0)}, "The area has to be above zero"),
        ({"fill_l_min": 0}, "The flow at the fill point has to be above zero"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(changed, sentence):
    with pytest.raises(ValueError, match=sentence):
        job(**changed)


def test_ranges_roads_and_spreads_that_cannot_be():
    for low, likely, high in ((-1, 0, 1), (2, 1, 3), (1, 4, 3)):
        with pytest.raises(ValueError, match=r"range"):
            Ends(low, likely, high)
    with pytest.raises(ValueError, match="The width of the road has to be above zero"):
        area_of(length_m=2000, width_m=0)
    with pytest.raises(ValueError, match="More or less has to be between"):
        spread(5, pct=95, what="Area")
    assert area_of(length_m=2000, width_m=8) == 16000


def test_a_round_longer_than_the_day_is_a_sentence_and_no_figure():
    with pytest.raises(ValueError, match="A round of WC-07 takes 837 min, longer than the day of 10 h"):
        plan(job(haul_km=Ends(200, 200, 200), haul_km_h=Ends(30, 30, 30), other_min=Ends(0, 0, 0)))


def test_a_rate_no_gear_lays_is_said():
    assert plan(job()).warnings == ()
    assert plan(job(target_l_m2=2)).warnings == (
        "No gear lays 2 L/m²: the nearest, Second at 1200 rpm, lays 62 % less.",
    )


def test_fewest_carts_come_first_then_the_least_carried_in_vain():
    it = job(passes=11)
    small = plan_cart(it, sheet(), name="WC-01", tank_l=2_000)
    near = plan_cart(it, sheet(), name="WC-02", tank_l=12_500)
    waste = plan_cart(it, sheet(), name="WC-03", tank_l=12_900)
    assert [one.name for one in in_order([small, waste, near])] == ["WC-02", "WC-03", "WC-01"]


def test_a_fill_that_nobody_timed_wants_the_fill_points():
    bare = sheet(fill_l_min=None)
    with pytest.raises(ValueError, match="Nobody has timed a fill of WC-07"):
        plan_cart(job(), bare, name="WC-07", tank_l=12_500)
    assert plan_cart(job(fill_l_min=1000), bare, name="WC-07", tank_l=12_500).likely.cycle.fill_min == 12
