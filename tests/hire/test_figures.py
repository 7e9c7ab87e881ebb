"""Rules of the figures: hours covered once, cuts taken out, classes by band, nothing divided by nothing."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.figures import Inputs, class_words, hours_in, metered, reckon, without

START = datetime(2026, 6, 1, tzinfo=UTC)


def at(hour):
    return None if hour is None else START + timedelta(hours=hour)


def spans(*pairs):
    return [(at(opens), at(closes)) for opens, closes in pairs]


@pytest.mark.parametrize(
    ("pairs", "hours"),
    [
        pytest.param([], 0, id="none"),
        pytest.param([(-5, 5)], 5, id="over the start"),
        pytest.param([(90, 120)], 10, id="over the end"),
        pytest.param([(-5, 200)], 100, id="all of it"),
        pytest.param([(95, None)], 5, id="still running"),
        pytest.param([(10, 20), (15, 30)], 20, id="two that overlap count once"),
        pytest.param([(10, 40), (15, 20)], 30, id="one inside another"),
        pytest.param([(10, 20), (20, 30)], 20, id="one after the other"),
        pytest.param([(-20, -10), (100, 120)], 0, id="outside, edge and all"),
    ],
)
def test_hours_in_a_period_count_once(pairs, hours):
    assert hours_in(spans(*pairs), start=at(0), end=at(100)) == hours


@pytest.mark.parametrize(
    ("cuts", "left"),
    [
        pytest.param([], [(10, 50)], id="no cut"),
        pytest.param([(20, 30)], [(10, 20), (30, 50)], id="out of the middle"),
        pytest.param([(0, 20)], [(20, 50)], id="off the front"),
        pytest.param([(40, None)], [(10, 40)], id="from then on"),
        pytest.param([(0, 60)], [], id="all of it"),
        pytest.param([(60, 70)], [(10, 50)], id="after it"),
        pytest.param([(30, 40), (15, 20)], [(10, 15), (20, 30), (40, 50)], id="two, in any order"),
    ],
)
def test_what_is_left_after_cuts(cuts, left):
    assert without((at(10), at(50)), spans(*cuts)) == spans(*left)


def test_a_span_still_running_stays_so_after_a_cut():
    assert without((at(10), None), spans((20, 30))) == spans((10, 20), (30, None))


@given(
    st.lists(
        st.tuples(st.integers(-40, 240), st.integers(1, 60)),
        min_size=2,
        max_size=8,
        unique_by=lambda pair: pair[0],
    ),
    st.integers(1, 99),
)
def test_periods_side_by_side_add_up(steps, middle):
    readings, value = [], 0.0
    for hour, gain in sorted(steps):
        value += gain
        readings.append((at(hour), value))

    def gained(opens, closes):
        return metered(
            before=max((point for point in readings if point[0] <= at(opens)), default=None),
            first=min((point for point in readings if point[0] > at(opens)), default=None),
            last=max((point for point in readings if point[0] <= at(closes)), default=None),
            after=min((point for point in readings if point[0] > at(closes)), default=None),
            start=at(opens),
            end=at(closes),
        )  # fmt: skip

    assert (gained(0, middle) or 0) + (gained(middle, 100) or 0) == pytest.approx(gained(0, 100) or 0)


@pytest.mark.parametrize(
    ("axles", "capacity_l", "words"),
    [
        (2, 3999, "2-axle, under 4,000 L"),
        (2, 4000, "2-axle, 4,000–8,000 L"),
        (3, 11999, "3-axle, 8,000–12,000 L"),
        (3, 12000, "3-axle, 12,000–16,000 L"),
        (3, 14000, "3-axle, 12,000–16,000 L"),
        (4, 30000, "4-axle, 28,000–32,000 L"),
        (None, 14000, "axles not recorded, 12,000–16,000 L"),
    ],
)
def test_a_class_is_axles_and_a_band_of_tank(axles, capacity_l, words):
    assert class_words(axles=axles, capacity_l=capacity_l) == words


def test_a_cart_with_nothing_to_tell_has_no_figures():
    one = reckon([Inputs()])
    assert (one.utilisation, one.could_work, one.engine_hours, one.km, one.cost) == (None,) * 5
    assert one.between.is_undefined and one.to_repair.is_undefined and one.to_second_look.is_undefined
    assert (one.cost_per_hour, one.cost_per_1000_km, one.without_waits) == (None, None, None)


def test_costs_and_defects_of_an_unread_cart_stay_out_of_what_is_divided_by_hours():
    read = Inputs(engine_hours=100, km=2000, told=2, cost=Decimal(300))
    one = reckon([read, Inputs(told=7, cost=Decimal(900))])
    assert (one.between.hours, one.told, one.unread) == (50, 9, 1)
    assert (one.cost, one.cost_per_hour, one.cost_per_1000_km) == (Decimal(1200), Decimal(3), Decimal(150))


def test_hours_of_nothing_divide_nothing():
    one = reckon(
        [Inputs(fleet_hours=24, engine_hours=0, km=0, told=1, repairs=1, repair_hours=0, cost=Decimal(5))]
    )
    assert (one.between.hours, one.without_waits) == (0, None)
    assert (one.cost_per_hour, one.cost_per_1000_km) == (None, None)
