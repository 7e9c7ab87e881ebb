"""Hours over, pool by pool."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from hire.charges import (
    AgreedHours,
    Docket,
    charge,
)
from tests.factories.charges import (
    BEST,
    ENGINE,
    OUT_AT,
    hire,
    rain,
    read,
    workings,
)


def hours_over(found):
    return [
        (line.quantity, line.working.split(":")[0]) for line in found.lines if line.key.startswith("hours")
    ]


@pytest.mark.parametrize(
    ("pool", "expected"),
    [
        pytest.param("day", [(Decimal(4), "2 March 2026"), (Decimal(2), "4 March 2026")], id="day"),
        pytest.param("week", [], id="week"),
        pytest.param("bill period", [], id="bill period"),
        pytest.param("whole hire", [], id="whole hire"),
    ],
)
def test_hours_are_pooled(pool, expected):
    shown = {2: 1012, 3: 1016, 4: 1026, 5: 1030, 6: 1034, 7: 1042, 8: 1050}
    readings = [read(2, 6, 1000), *(read(day, 18, value) for day, value in shown.items())]
    terms = replace(BEST, hours=replace(ENGINE, pool=pool))
    assert hours_over(charge(hire(7, readings=readings), terms=terms)) == expected


def test_a_morning_reading_is_that_of_the_evening_before():
    readings = [read(2, 6, 1000), read(3, 6, 1010), read(4, 6, 1014), read(4, 15, 1022)]
    terms = replace(BEST, hours=replace(ENGINE, pool="day"))
    assert hours_over(charge(hire(3, readings=readings), terms=terms)) == [(Decimal(2), "2 March 2026")]


def test_hours_nobody_read_by_the_day_are_shared_out_and_the_line_says_so():
    readings = [read(2, 6, 1000), read(15, 15, 1126)]
    terms = replace(BEST, hours=replace(ENGINE, pool="week"))
    found = charge(hire(14, readings=readings), terms=terms)
    assert hours_over(found) == [(Decimal(7), "week to 8 March 2026"), (Decimal(7), "week to 15 March 2026")]
    assert all(words.endswith("hours shared out evenly between readings") for words in workings(found)[1:])


def test_what_it_read_when_it_came_back_belongs_to_the_last_day():
    terms = replace(BEST, hours=ENGINE)
    late = charge(hire(7, readings=[read(2, 6, 1000), read(12, 9, 1060)]), terms=terms)
    assert hours_over(late) == [(Decimal(4), "the whole hire")]


def test_a_swap_counts_each_meter_by_itself():
    readings = [read(2, 6, 1000), read(4, 15, 1030, ""), read(4, 16, 400, "new"), read(8, 15, 440, "new")]
    found = charge(hire(7, readings=readings), terms=replace(BEST, hours=ENGINE))
    assert hours_over(found) == [(Decimal(14), "the whole hire")]


def test_the_minimum_brings_its_hours():
    readings = [read(2, 6, 1000), read(4, 15, 1050)]
    terms = replace(BEST, hours=ENGINE, minimum_days=7)
    assert hours_over(charge(hire(3, readings=readings), terms=terms)) == []
    assert hours_over(charge(hire(3, readings=readings), terms=replace(terms, minimum_days=0))) == [
        (Decimal(26), "the whole hire")
    ]


def test_hours_by_the_docket():
    dockets = [
        Docket("1", date(2026, 3, 2), Decimal(11)),
        Docket("2", date(2026, 3, 3), Decimal(9), is_signed=False),
    ]
    terms = replace(BEST, hours=replace(ENGINE, clock="docket", pool="day"))
    assert hours_over(charge(hire(2, dockets=dockets), terms=terms)) == [(Decimal(3), "2 March 2026")]


BY_KEY = replace(BEST, hours=replace(ENGINE, clock="key"))


def uncounted(readings, *, days=7, pool="whole hire", through=None, **facts):
    terms = replace(BEST, hours=replace(ENGINE, pool=pool))
    return charge(hire(days, readings=readings, **facts), terms=terms, through=through).hours_uncounted


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        pytest.param([], "from 2 March 2026 to 8 March 2026", id="never read"),
        pytest.param([read(2, 6, 1000)], "from 2 March 2026 to 8 March 2026", id="not read as it came back"),
        pytest.param([read(2, 6, 1000), read(5, 18, 1030)], "from 6 March 2026 to 8 March 2026", id="up to the 5th"),
        pytest.param([read(2, 6, 1000), read(8, 11, 1030)], "of 8 March 2026", id="not on the last afternoon"),
        pytest.param([read(4, 18, 1000), read(8, 15, 1030)], "from 2 March 2026 to 4 March 2026", id="first read late"),
        pytest.param([read(2, 6, 1000), read(8, 15, 1030)], "", id="read at both ends"),
        pytest.param([read(2, 6, 1000), read(9, 9, 1030)], "", id="read the morning after"),
        pytest.param([read(2, 18, 1000), read(8, 15, 1030)], "", id="first read on the day it left"),
        pytest.param(
            [read(2, 6, 1000), read(4, 10, 1030), read(4, 15, 400, "new"), read(8, 15, 440, "new")],
            "", id="another meter the same day",
        ),
        pytest.param(
            [read(2, 6, 1000), read(4, 18, 1030), read(6, 18, 400, "new"), read(8, 15, 440, "new")],
            "from 5 March 2026 to 6 March 2026", id="another meter two days later",
        ),
    ],
)  # fmt: skip
def test_days_nobody_read_are_named(readings, words):
    found = uncounted(readings)
    assert found == (f"Hours {words} were not read: none counted." if words else "")


def test_a_cart_called_off_in_the_morning_was_read_by_then():
    morning = replace(
        hire(7, readings=[read(2, 6, 1000), read(8, 9, 1030)]),
        off_hire_at=OUT_AT + timedelta(days=6, hours=4),
    )
    assert charge(morning, terms=replace(BEST, hours=ENGINE)).hours_uncounted == ""


def test_days_stood_down_between_are_no_gap():
    stood = [rain(4), rain(5)]
    assert uncounted([], stand_downs=stood).startswith("Hours from 2 March 2026 to 8 March 2026 were")


def test_hours_agreed_are_told():
    agreed = [AgreedHours(date(2026, 3, 4), date(2026, 3, 5), Decimal(16), "as agreed")]
    assert uncounted([], agreed_hours=agreed) == (
        "Hours from 2 March 2026 to 3 March 2026 and from 6 March 2026 to 8 March 2026 were not read: none counted."
    )
    found = charge(hire(7, agreed_hours=agreed), terms=BY_KEY)
    assert found.hours_uncounted.endswith("were not agreed: none counted.")
    assert found.hours_uncounted in found.notes


def test_a_pool_that_has_not_ended_is_not_asked_about():
    at_first = [read(2, 6, 1000)]
    assert uncounted(at_first, days=10, through=date(2026, 3, 9)) == ""
    assert uncounted(at_first, days=10, through=date(2026, 3, 9), pool="week") == (
        "Hours from 2 March 2026 to 8 March 2026 were not read: none counted."
    )
    assert uncounted(at_first, days=10, through=date(2026, 3, 9), pool="day").startswith(
        "Hours from 2 March 2026 to 9 March"
    )
