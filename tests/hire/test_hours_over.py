"""Hours over, pool by pool."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from hire.charges import (
    Docket,
    charge,
)
from tests.factories.charges import (
    BEST,
    ENGINE,
    hire,
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
