"""What a changed period costs against the one promised: docs/charges.md works it, and it is what would be charged."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.charges import Docket, Hire, Terms, WetTerms, charge
from hire.period_change import PeriodChange
from hire.period_price import Period, dry_price, wet_price
from tests.factories.charges import ADELAIDE, BEST, OUT_AT
from tests.worked import tables

WET = WetTerms(
    Decimal(165),
    travel_price=Decimal(95),
    overtime_after=Decimal(8),
    night=Decimal("1.25"),
    sunday=Decimal(2),
)
[ROWS] = tables("charges.md", "A changed period")


def priced(words, ends_on):
    rule, *more = words.split("; ")
    is_wet, shift = rule.startswith("wet "), rule.removeprefix("wet ")
    period = Period(OUT_AT, datetime.fromisoformat(f"{ends_on}T15:00").replace(tzinfo=ADELAIDE), ADELAIDE)
    if is_wet:
        return wet_price(replace(period, shift=shift), Terms("best rate", wet=WET))
    said = {"minimum": "minimum_days", "shifts": "shifts_a_day"}
    extra = {said[one.split(" ")[0]]: int(one.split(" ")[1]) for one in more}
    return dry_price(period, replace(BEST, rule=rule, **extra))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_the_worked_table_of_the_page_is_true(row):
    found = PeriodChange(priced(row[3], row[1]), priced(row[3], row[2]))
    assert (found.old.total, found.new.total) == (Decimal(row[4]), Decimal(row[5]))
    assert found.words.removesuffix(".").replace(",", "").lower() == row[6]


TERMS = st.builds(
    Terms,
    st.sampled_from(["best rate", "as agreed", "fixed", "agreed minimum"]),
    st.fixed_dictionaries({1: st.integers(200, 400).map(Decimal), 7: st.integers(900, 2000).map(Decimal)}),
    month_price=st.none() | st.integers(3000, 6000).map(Decimal),
    month=st.sampled_from(["28 days", "calendar"]),
    fixed_length=st.just(7),
    days_in_week=st.sampled_from([5, 6, 7]),
    holidays_are_free=st.booleans(),
    minimum_days=st.integers(1, 12),
    cut_off=st.none() | st.just(time(9)),
    shifts_a_day=st.sampled_from([1, 2]),
)
MONTHLY = TERMS.map(
    lambda terms: replace(
        terms, rule="fixed", fixed_length=0, month="calendar", month_price=terms.month_price or Decimal(5200)
    )
)
DATES = st.sets(st.integers(0, 60))


@given(terms=TERMS | MONTHLY, hours=st.integers(1, 45 * 24), free=DATES)
def test_a_dry_period_is_charged_as_it_is_priced(terms, hours, free):
    ends = OUT_AT + timedelta(hours=hours)
    # The first day is a Monday and counts, unless it is a free holiday.
    holidays = frozenset(OUT_AT.date() + timedelta(days=n) for n in free - {0})
    found = dry_price(Period(OUT_AT, ends, ADELAIDE), terms, holidays)
    hire = Hire(OUT_AT, ends, ADELAIDE, holidays=holidays)
    assert found.total == charge(hire, terms=terms).net


@given(
    hours=st.integers(1, 30 * 24),
    shift=st.sampled_from(["day", "night", "both"]),
    in_week=st.sampled_from([5, 6, 7]),
)
def test_a_wet_period_is_charged_as_it_is_priced(hours, shift, in_week):
    ends = OUT_AT + timedelta(hours=hours)
    period, terms = Period(OUT_AT, ends, ADELAIDE, shift), Terms("best rate", wet=WET, days_in_week=in_week)
    week = period.week(terms, ())
    shifts = {"day": [False], "night": [True], "both": [False, True]}[shift]
    dockets = [
        Docket(f"{on} {is_night}", on, Decimal(8), is_night=is_night)
        for is_night in shifts
        for on in (period.nights(week) if is_night else period.days(week))
    ]
    hire = Hire(OUT_AT, ends, ADELAIDE, dockets=dockets)
    assert wet_price(period, terms).total == charge(hire, terms=terms).net


def test_a_period_of_no_hire_day_is_one_day():
    """A Saturday and a Sunday, in a week of five days."""
    saturday = OUT_AT + timedelta(days=5)
    assert saturday.date() == date(2026, 3, 7)
    found = dry_price(Period(saturday, saturday + timedelta(days=1), ADELAIDE), replace(BEST, days_in_week=5))
    assert (found.total, found.days) == (Decimal("290.00"), 1)
