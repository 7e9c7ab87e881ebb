"""What days and nights of wet hire come to before anybody has worked one: as their signed dockets are charged. docs/enquiries.md
works it."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.charges import Docket, Hire, Terms, WetTerms, charge
from hire.charging.days import days_of
from hire.charging.wet import docket_lines, foreseen
from hire.period_price import Period, wet_price
from tests.factories.charges import ADELAIDE, OUT_AT
from tests.hire.test_suiting import table

PAGE = WetTerms(
    Decimal(165),
    overtime_after=Decimal(8),
    sunday=Decimal(2),
    holiday=Decimal("2.5"),
    night=Decimal("1.25"),
    travel_price=Decimal(95),
)
HEAD = "| first day | last day | holiday | shift | hours | travel | sums | total |"


def moment(on, hour):
    return datetime(on.year, on.month, on.day, hour, tzinfo=ADELAIDE)


@pytest.mark.parametrize("row", table(HEAD), ids=lambda row: f"{row[0]}, {row[3]} {row[4]} h")
def test_the_worked_table_of_the_page_is_true(row):
    first, last = date.fromisoformat(row[0]), date.fromisoformat(row[1])
    holidays = [date.fromisoformat(row[2])] if row[2] else []
    period = Period(
        moment(first, 6), moment(last, 22), ADELAIDE, row[3], hours=Decimal(row[4]), travel_hours=Decimal(row[5])
    )  # fmt: skip
    found = wet_price(period, Terms("best rate", wet=PAGE), holidays)
    assert (list(found.sums), found.total) == (row[6].split("; "), Decimal(row[7]))
    assert found.hours == max(Decimal(row[4]), 8)


def amounts(least, most, places=2):
    return st.decimals(least, most, places=places)


TERMS = st.builds(
    WetTerms,
    amounts(0, 400),
    minimum_hours=amounts(0, 12, 1),
    travel_price=amounts(0, 200),
    overtime_after=st.none() | amounts(0, 12, 1),
    overtime=amounts(1, 2),
    night=amounts(1, 2),
    sunday=amounts(1, 3),
    holiday=amounts(1, 3),
)
DATES = st.sets(st.integers(0, 40))


@given(dates=st.tuples(DATES, DATES, DATES), hours=amounts(0, 24), travel=amounts(0, 24), terms=TERMS)
def test_it_is_what_signed_dockets_of_those_shifts_are_charged(dates, hours, travel, terms):
    first = OUT_AT.date()
    by_day, by_night, free = ([first + timedelta(days=n) for n in sorted(some)] for some in dates)
    dockets = [
        Docket(f"{on} {is_night}", on, hours, travel, is_night=is_night)
        for is_night, dates in ((False, by_day), (True, by_night))
        for on in dates
    ]
    ends = datetime(2026, 5, 1, 16, tzinfo=ADELAIDE)
    hire = Hire(OUT_AT, ends, ADELAIDE, holidays=frozenset(free), dockets=dockets)
    whole = Terms("best rate", wet=terms)
    lines, notes = docket_lines(hire, terms, days_of(hire, whole, None))
    found = foreseen(by_day, nights=by_night, hours=hours, travel_hours=travel, terms=terms, holidays=free)
    assert (found.total, notes) == (sum(line.amount for line in lines), [])
    assert found.total == charge(hire, terms=whole).net


@pytest.mark.parametrize(
    "below", [{"hours": Decimal(-1)}, {"hours": Decimal(1), "travel_hours": Decimal(-1)}]
)
def test_hours_below_zero_are_refused(below):
    with pytest.raises(ValueError, match="below zero"):
        foreseen([OUT_AT.date()], terms=PAGE, **below)


@pytest.mark.parametrize(
    ("end_day", "end_hour", "nights"),
    [(6, 18, 4), (6, 19, 5), (6, 6, 4), (3, 6, 1), (2, 16, 1)],
    ids=["at its beginning", "after it", "the morning after", "one night", "none in it"],
)
def test_a_night_counts_that_begins_before_the_end(end_day, end_hour, nights):
    period = Period(OUT_AT, OUT_AT.replace(day=end_day, hour=end_hour), ADELAIDE, "night")
    assert wet_price(period, Terms("best rate", wet=PAGE)).nights == nights


@pytest.mark.parametrize(
    ("shift", "more", "words"),
    [
        ("day", {}, "2 days of 8 h, wet"),
        ("night", {}, "1 night of 8 h, wet"),
        ("both", {"hours": Decimal("10.5")}, "2 days and 1 night of 10.5 h, wet"),
        ("night", {"travel_hours": Decimal("1.50")}, "1 night of 8 h and 1.5 h travel, wet"),
    ],
)
def test_what_is_priced_in_words(shift, more, words):
    period = Period(OUT_AT, OUT_AT + timedelta(days=1, hours=8), ADELAIDE, shift, **more)
    assert wet_price(period, Terms("best rate", wet=PAGE)).words == words


def test_terms_without_a_price_of_wet_hire_are_refused():
    period = Period(OUT_AT, OUT_AT + timedelta(days=1), ADELAIDE)
    with pytest.raises(ValueError, match="no price of wet hire"):
        wet_price(period, Terms("best rate", {1: Decimal(290)}))
