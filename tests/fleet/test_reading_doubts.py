"""Which readings fit their neighbours: tables of cases, no database."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet.readings import meter_doubt, most_rise, subject_words, tread_doubt

AT = datetime(2026, 12, 1, tzinfo=UTC)
WEEK = timedelta(days=7)


def point(value, away):
    return None if value is None else (AT + away, Decimal(value))


@pytest.mark.parametrize(
    ("kind", "value", "before", "after", "doubt"),
    [
        pytest.param("engine_hours", "100", None, None, "", id="the first reading of a meter"),
        pytest.param("engine_hours", "100", "100", None, "", id="unmoved"),
        pytest.param("engine_hours", "99.9", "100", None, "lower than 100", id="a tenth lower"),
        pytest.param("engine_hours", "110", "100", "110", "", id="as the next one"),
        pytest.param(
            "engine_hours", "110.1", "100", "110", "higher than 110", id="a tenth over the next one"
        ),
        pytest.param("engine_hours", "292.0", "100", None, "", id="ran day and night, and a day's slack"),
        pytest.param(
            "engine_hours", "292.1", "100", None, "a figure too many", id="ran longer than there was time"
        ),
        pytest.param("pump_hours", "1000", "100", None, "a figure too many", id="a figure too many"),
        pytest.param("km", "19300", "100", None, "", id="driven day and night"),
        pytest.param(
            "km", "19300.1", "100", None, "a figure too many", id="driven further than there was time"
        ),
        pytest.param("km", "-0.1", None, None, "no meter shows that", id="below zero"),
        pytest.param("km", "NaN", None, None, "no meter shows that", id="no number"),
        pytest.param("km", "1E+30", None, None, "no meter shows that", id="a number no meter has"),
    ],
)
def test_a_meter_only_goes_forward_and_no_faster_than_it_can(kind, value, before, after, doubt):
    found = meter_doubt(
        kind, Decimal(value), read_at=AT, before=point(before, -WEEK), after=point(after, WEEK)
    )
    assert (doubt in found) if doubt else (found == "")


@pytest.mark.parametrize(
    ("depth", "before", "after", "doubt"),
    [
        pytest.param("16", None, None, "", id="as new"),
        pytest.param("17.0", None, None, "", id="a millimetre over new"),
        pytest.param("17.1", None, None, "16.0 mm when new", id="more than a millimetre over new"),
        pytest.param("0", None, None, "", id="worn to nothing"),
        pytest.param("-0.1", None, None, "no tread is that deep", id="below zero"),
        pytest.param("Infinity", None, None, "no tread is that deep", id="no depth"),
        pytest.param("9.5", "9.0", None, "", id="as much deeper as a gauge repeats"),
        pytest.param("9.6", "9.0", None, "deeper than 9.0", id="deeper than a gauge repeats"),
        pytest.param("8.5", None, "9.0", "", id="a later one as much deeper as a gauge repeats"),
        pytest.param("8.4", None, "9.0", "less than 9.0", id="a later one deeper than a gauge repeats"),
        pytest.param("3.0", "9.0", None, "", id="fast wear is no doubt"),
    ],
)
def test_a_tread_only_wears(depth, before, after, doubt):
    found = tread_doubt(
        Decimal(depth), new_depth_mm=Decimal("16.0"), before=point(before, -WEEK), after=point(after, WEEK)
    )
    assert (doubt in found) if doubt else (found == "")


def test_a_question_names_the_day_it_compares_with():
    assert "24 Nov 2026" in meter_doubt("km", Decimal(5), read_at=AT, before=point("9", -WEEK), after=None)


def test_an_hour_meter_is_as_fast_as_the_clock():
    assert most_rise("engine_hours", WEEK) == Decimal(8 * 24)
    assert most_rise("km", WEEK) == Decimal(8 * 24 * 100)


@pytest.mark.parametrize(
    ("subject", "words"),
    [("meter engine_hours", "Engine hours"), ("meter km", "Odometer km"), ("tread 2LO", "Tread at 2LO")],
)
def test_subjects_have_words(subject, words):
    assert subject_words(subject) == words
