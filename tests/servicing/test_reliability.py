"""What nothing at all means for a mean, when a mean says little, and what is refused."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.reliability import (
    FEW,
    availability,
    mean_time_between,
    mean_time_to_repair,
    operational_availability,
    survival,
)


@pytest.mark.parametrize("hours", [0, 412, Decimal("412.5"), 1e6])
def test_no_failures_is_undefined_and_says_over_how_many_hours(hours: float) -> None:
    found = mean_time_between(operating_hours=hours, failures=0)
    assert (found.hours, found.events, found.over_hours) == (None, 0, float(hours))
    assert found.is_undefined and found.is_few


def test_an_undefined_mean_leaves_availability_undefined() -> None:
    assert availability(mean_time_between_hours=None, mean_time_to_repair_hours=5) is None
    assert availability(mean_time_between_hours=100, mean_time_to_repair_hours=None) is None


@pytest.mark.parametrize(("events", "few"), [(FEW - 1, True), (FEW, False), (FEW + 1, False)])
def test_a_mean_of_few_events_says_so(events: int, few: bool) -> None:
    assert mean_time_to_repair(repair_hours=10, repairs=events).is_few is few


@given(st.floats(0.001, 1e6), st.floats(0, 1e6))
def test_availability_is_a_share(up: float, down: float) -> None:
    assert 0 < operational_availability(up_hours=up, down_hours=down) <= 1
    assert operational_availability(up_hours=up, down_hours=down) == availability(
        mean_time_between_hours=up, mean_time_to_repair_hours=down
    )


@pytest.mark.parametrize(
    "ask",
    [
        pytest.param(lambda: mean_time_between(operating_hours=-1, failures=1), id="hours below zero"),
        pytest.param(lambda: mean_time_between(operating_hours=float("nan"), failures=1), id="no number"),
        pytest.param(lambda: mean_time_between(operating_hours=1, failures=-1), id="failures below zero"),
        pytest.param(lambda: mean_time_between(operating_hours=1, failures=1.5), id="half a failure"),
        pytest.param(lambda: mean_time_to_repair(repair_hours=float("inf"), repairs=1), id="endless"),
        pytest.param(lambda: operational_availability(up_hours=0, down_hours=0), id="no hours"),
        pytest.param(
            lambda: availability(mean_time_between_hours=0, mean_time_to_repair_hours=0), id="no means"
        ),
        pytest.param(lambda: survival(hours=1, mean_time_between_hours=0), id="a mean of nothing"),
    ],
)
def test_what_cannot_be_is_refused_in_words(ask) -> None:
    with pytest.raises(ValueError, match=r"\."):
        ask()
