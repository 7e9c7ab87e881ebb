"""Rules of service intervals: each side of each boundary, the spread, and what is refused."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.intervals import STATES, Due, Interval, Mark, next_due

TODAY = date(2026, 6, 15)
LAST_ON = date(2026, 1, 1)


def due(interval: Interval, used_hours: float | Decimal = 0, used_km: float = 0, **asked: object) -> Due:
    return next_due(
        **{
            "interval": interval,
            "last": Mark(LAST_ON, 1000, 50000),
            "now": Mark(TODAY, 1000 + used_hours, 50000 + used_km),
            "hours_per_day": None,
            "km_per_day": None,
            **asked,
        }
    )


@pytest.mark.parametrize(
    ("used", "state"),
    [(499.9, "ok"), (500, "due"), (549.9, "due"), (550, "due"), (550.1, "overdue")],
)
def test_hours_are_due_at_the_interval_and_overdue_past_the_tolerance(used: float, state: str) -> None:
    assert due(Interval(engine_hours=500), used).state == state


def test_a_tolerance_of_nothing_leaves_one_hour_for_due() -> None:
    assert due(Interval(engine_hours=500, tolerance=0), 500).state == "due"
    assert due(Interval(engine_hours=500, tolerance=0), Decimal("500.1")).state == "overdue"


@pytest.mark.parametrize(
    ("days_on", "state"),
    [(166, "ok"), (167, "soon"), (180, "soon"), (181, "due"), (199, "due"), (200, "overdue")],
)
def test_months_are_counted_in_the_days_to_the_due_day(days_on: int, state: str) -> None:
    # 1 January and six months is 1 July: 181 days; a tenth more is 199.1.
    found = due(Interval(months=6), now=Mark(LAST_ON + timedelta(days_on)))
    assert (found.on, found.state) == (date(2026, 7, 1), state)


@pytest.mark.parametrize(("soon_days", "state"), [(9, "ok"), (10, "soon"), (11, "soon")])
def test_soon_is_within_the_days_asked(soon_days: int, state: str) -> None:
    found = due(Interval(engine_hours=500), 450, hours_per_day=5, soon_days=soon_days)
    assert (found.on, found.state) == (TODAY + timedelta(10), state)


def test_the_state_is_the_worst_measure_and_the_trigger_the_earliest() -> None:
    found = due(Interval(engine_hours=500, km=20000), 600, 19990, hours_per_day=0.001, km_per_day=400)
    assert (found.trigger, found.state) == ("engine_hours", "overdue")
    found = due(Interval(engine_hours=500, km=20000), 600, 19990, hours_per_day=0, km_per_day=400)
    assert (found.on, found.trigger, found.state) == (TODAY, "km", "overdue")


def test_a_tie_goes_to_hours_then_km() -> None:
    rates = {"hours_per_day": 10, "km_per_day": 100}
    assert due(Interval(engine_hours=100, km=1000), **rates).trigger == "engine_hours"
    tied = Interval(km=1600, months=6)
    assert due(tied, **rates).on == date(2026, 7, 1)
    assert due(tied, **rates).trigger == "km"


def test_no_day_at_all_has_no_trigger() -> None:
    found = due(Interval(engine_hours=500), 100, hours_per_day=0)
    assert (found.on, found.trigger, found.state, found.on_low, found.on_high) == (
        None,
        None,
        "ok",
        None,
        None,
    )
    unread = due(Interval(engine_hours=500), now=Mark(TODAY))
    assert (unread.on, unread.trigger, unread.state, unread.measures) == (None, None, "ok", ())


def test_a_day_past_the_calendar_is_no_day() -> None:
    assert due(Interval(engine_hours=500), hours_per_day=1e-9).on is None


def test_a_tenth_is_a_tenth() -> None:
    # In binary 0.3 / 0.1 is just under 3, and 1000.3 - 1000 is not 0.3.
    assert due(Interval(engine_hours=0.6), 0.3, hours_per_day=0.1).on == TODAY + timedelta(3)
    assert due(Interval(engine_hours=1, tolerance=0.1), Decimal("1.1")).state == "due"


def test_without_a_spread_the_low_and_high_days_are_the_day() -> None:
    found = due(Interval(engine_hours=500), 100, hours_per_day=5)
    assert found.on_low == found.on == found.on_high == TODAY + timedelta(80)


def test_a_low_rate_of_zero_leaves_the_latest_day_open() -> None:
    found = due(Interval(engine_hours=500), 100, hours_per_day=5, hours_per_day_low=0, hours_per_day_high=8)
    assert (found.on_low, found.on_high) == (TODAY + timedelta(50), None)


@given(st.floats(0, 24), st.floats(0, 24), st.floats(0, 24), st.integers(0, 600), st.integers(1, 24))
def test_the_spread_encloses_the_day(a: float, b: float, c: float, used: int, months: int) -> None:
    low, mid, high = sorted((a, b, c))
    found = due(
        Interval(engine_hours=500, months=months),
        used,
        hours_per_day=mid,
        hours_per_day_low=low,
        hours_per_day_high=high,
    )
    if used <= 500:
        assert found.on_low <= found.on <= found.on_high
    assert found.state in STATES
    assert (found.on == min(each.on for each in found.measures if each.on)) is True


def test_each_measure_shows_its_inputs() -> None:
    found = due(Interval(engine_hours=500, km=20000, months=6), 100, 5000)
    assert [(each.measure, each.interval, each.used, each.remaining) for each in found.measures] == [
        ("engine_hours", 500, 100, 400),
        ("km", 20000, 5000, 15000),
        ("months", 181, 165, 16),
    ]


@pytest.mark.parametrize(
    "asked",
    [
        pytest.param({"hours_per_day": float("nan")}, id="no number"),
        pytest.param({"hours_per_day": float("inf")}, id="endless"),
        pytest.param({"km_per_day": -1}, id="a rate below zero"),
        pytest.param({"hours_per_day": 5, "hours_per_day_low": 6}, id="low over the rate"),
        pytest.param({"hours_per_day": 5, "hours_per_day_high": 4}, id="high under the rate"),
        pytest.param({"now": Mark(TODAY, 999, 50000)}, id="hours run backwards"),
        pytest.param({"now": Mark(TODAY, 1000, 49999)}, id="km run backwards"),
        pytest.param({"now": Mark(LAST_ON - timedelta(1), 1000, 50000)}, id="asked before the service"),
        pytest.param({"now": Mark(TODAY, Decimal("NaN"), 50000)}, id="a reading that is no number"),
    ],
)
def test_what_cannot_be_is_refused_in_words(asked: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+.*\."):
        due(Interval(engine_hours=500, km=20000), **asked)


@pytest.mark.parametrize(
    "lengths",
    [
        pytest.param({}, id="nothing counts"),
        pytest.param({"engine_hours": 0}, id="no hours"),
        pytest.param({"km": -1}, id="km below zero"),
        pytest.param({"months": 0}, id="no months"),
        pytest.param({"months": 1.5}, id="half a month"),
        pytest.param({"engine_hours": float("nan")}, id="no number"),
        pytest.param({"km": 1, "tolerance": -0.1}, id="tolerance below zero"),
    ],
)
def test_an_interval_that_cannot_be_is_refused(lengths: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"\."):
        Interval(**lengths)
