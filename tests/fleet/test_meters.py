"""Rules of use a day: what an absurd reading, a changed meter and a mixed calendar may do, and what is refused."""

import random
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.meters import merged, rate_ahead, usage_per_day, usage_split

DAY_0 = date(2026, 3, 2)
ON = DAY_0 + timedelta(56)


def day(number: int) -> date:
    return DAY_0 + timedelta(number)


def worked(seed: int, *, days: int = 57, start: float = 1000.0) -> list[tuple[date, float]]:
    """A reading each morning: about 8 h on five days of seven."""
    chance, value, readings = random.Random(seed), start, []
    for number in range(days):
        readings.append((day(number), value))
        value += chance.uniform(6, 10) if number % 7 < 5 else 0
    return readings


@pytest.mark.parametrize("seed", range(8))
def test_a_cart_that_rests_at_weekends_is_used_as_much_as_its_meter_says(seed: int) -> None:
    readings = worked(seed)
    truth = (readings[-1][1] - readings[0][1]) / 56
    assert usage_per_day(readings, on=ON, most_per_day=24) == pytest.approx(truth, rel=0.05)


@given(st.integers(0, 56), st.floats(0, 999_999))
def test_one_absurd_reading_does_not_move_it(at: int, absurd: float) -> None:
    readings = worked(1)
    sound = usage_per_day(readings, on=ON, most_per_day=24)
    readings[at] = (readings[at][0], absurd)
    assert usage_per_day(readings, on=ON, most_per_day=24) == pytest.approx(sound, rel=0.06)


@pytest.mark.parametrize("at", [1, 2, 5, 28, 50, 55])
def test_a_changed_meter_does_not_move_it(at: int) -> None:
    readings = worked(2)
    sound = usage_per_day(readings, on=ON, most_per_day=24)
    shown_at_change = readings[at][1]
    changed = [
        (on, value if number < at else value - shown_at_change) for number, (on, value) in enumerate(readings)
    ]
    assert usage_per_day(changed, on=ON, most_per_day=24) == pytest.approx(sound, rel=0.1)


@given(st.permutations(worked(3, days=12)))
def test_the_order_of_readings_does_not_matter(shuffled: list[tuple[date, float]]) -> None:
    on = day(12)
    assert usage_per_day(shuffled, on=on) == usage_per_day(worked(3, days=12), on=on)


def test_the_window_holds_its_first_day_and_not_the_day_before() -> None:
    later = [(day(36), 400.0), (day(56), 500.0)]
    assert usage_per_day([(day(-4), 0.0), *later], on=ON) > 7
    assert usage_per_day([(day(-5), 0.0), *later], on=ON) == 5


def test_two_readings_of_one_day_give_no_rate() -> None:
    assert usage_per_day([(day(1), 10), (day(1), 18)], on=ON) is None


def test_nothing_read_is_nothing_known() -> None:
    assert usage_per_day([], on=ON) is None
    split = usage_split([], on=ON, hire_days=[(day(0), None)])
    assert (split.per_hire_day, split.per_idle_day, split.basis) == (None, None, "too few")


def test_hire_and_idle_days_come_apart() -> None:
    value, readings = 500.0, []
    for number in range(57):
        readings.append((day(number), value))
        value += (9 if number % 7 < 5 else 2) if number < 28 else 0.2
    split = usage_split(readings, on=ON, hire_days=[(day(0), day(28))])
    assert split.per_hire_day.rate == pytest.approx(7, rel=0.05)
    assert split.per_idle_day.rate == pytest.approx(0.2)
    assert (split.hire_days, split.idle_days, split.basis) == (28, 28, "readings")


def test_the_spread_is_of_weeks_and_encloses_the_rate() -> None:
    weekly, value, readings = [4, 5, 6, 7, 8, 9, 10, 11], 0.0, []
    for number in range(57):
        readings.append((day(number), value))
        value += weekly[min(number // 7, 7)]
    hire = usage_split(readings, on=ON, hire_days=[(day(0), None)]).per_hire_day
    assert (hire.low, hire.high) == (5.75, 9.25)
    assert hire.low <= hire.rate <= hire.high
    assert not hire.is_thin


def test_under_two_weeks_there_is_no_spread() -> None:
    hire = usage_split(worked(1, days=13), on=ON, hire_days=[(day(0), None)]).per_hire_day
    assert hire.low == hire.rate == hire.high
    assert hire.is_thin


def test_one_absurd_reading_does_not_move_the_split() -> None:
    readings = worked(4)
    sound = usage_split(readings, on=ON, hire_days=[(day(0), None)], most_per_day=24).per_hire_day
    readings[20] = (readings[20][0], 123_456.0)
    found = usage_split(readings, on=ON, hire_days=[(day(0), None)], most_per_day=24).per_hire_day
    assert found.rate == pytest.approx(sound.rate, rel=0.06)
    assert found.high == pytest.approx(sound.high, rel=0.15)


@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(1, 40)), max_size=8),
    st.floats(0.01, 500),
    st.floats(0, 24),
    st.floats(0, 24),
)
def test_the_walk_ahead_agrees_with_going_day_by_day(
    spans: list[tuple[int, int]], amount: float, on_hire: float, idle: float
) -> None:
    hires = [(day(start), day(start + length)) for start, length in spans]
    hired = {start + step for start, length in spans for step in range(length)}
    left = amount
    for number in range(400):
        gain = on_hire if number in hired else idle
        if gain and gain >= left:
            expected = number + left / gain
            break
        left -= gain
    else:
        return
    rate = rate_ahead(amount, on=day(0), per_hire_day=on_hire, per_idle_day=idle, hires=hires)
    assert amount / rate == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_a_hire_with_no_end_goes_on() -> None:
    assert rate_ahead(80, on=day(0), per_hire_day=8, per_idle_day=0, hires=[(day(-5), None)]) == 8
    assert rate_ahead(80, on=day(0), per_hire_day=0, per_idle_day=5, hires=[(day(0), None)]) == 0
    assert rate_ahead(80, on=day(0), per_hire_day=8, per_idle_day=0, hires=[]) == 0


def test_what_is_used_up_already_goes_on_at_todays_rate() -> None:
    assert rate_ahead(0, on=day(0), per_hire_day=8, per_idle_day=1, hires=[(day(0), day(1))]) == 8
    assert rate_ahead(-3, on=day(1), per_hire_day=8, per_idle_day=1, hires=[(day(0), day(1))]) == 1


def test_periods_that_overlap_or_touch_are_one() -> None:
    periods = [(day(9), None), (day(0), day(3)), (day(2), day(5)), (day(5), day(6)), (day(7), day(7))]
    assert merged(periods) == [(day(0), day(6)), (day(9), None)]


@pytest.mark.parametrize(
    "ask",
    [
        pytest.param(lambda: usage_per_day([(day(0), float("nan"))], on=ON), id="no number"),
        pytest.param(lambda: usage_per_day([(day(0), -1)], on=ON), id="below zero"),
        pytest.param(lambda: usage_per_day([], on=ON, window_days=0), id="no window"),
        pytest.param(lambda: usage_per_day([], on=ON, most_per_day=0), id="a meter that never moves"),
        pytest.param(lambda: usage_split([], on=ON, hire_days=[(day(2), day(1))]), id="a hire backwards"),
        pytest.param(
            lambda: rate_ahead(1, on=ON, per_hire_day=-1, per_idle_day=0, hires=[]), id="a rate below zero"
        ),
    ],
)
def test_what_cannot_be_is_refused_in_words(ask) -> None:
    with pytest.raises(ValueError, match=r"\."):
        ask()
