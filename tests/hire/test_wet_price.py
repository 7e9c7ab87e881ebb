"""What days of wet hire come to before anybody has worked one: as their signed dockets are charged. docs/enquiries.md works it."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.charges import Docket, Hire, Terms, WetTerms, charge
from hire.charging.wet import foreseen
from tests.factories.charges import ADELAIDE, OUT_AT
from tests.hire.test_suiting import table

PAGE = WetTerms(
    Decimal(165), overtime_after=Decimal(8), sunday=Decimal(2), holiday=Decimal("2.5"), night=Decimal("1.25")
)
HEAD = "| first day | last day | holiday | hours a day | sums | total |"


@pytest.mark.parametrize("row", table(HEAD), ids=lambda row: f"{row[0]}, {row[3]} h")
def test_the_worked_table_of_the_page_is_true(row):
    first, last = date.fromisoformat(row[0]), date.fromisoformat(row[1])
    holidays = [date.fromisoformat(row[2])] if row[2] else []
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    found = foreseen(days, hours=Decimal(row[3]), terms=PAGE, holidays=holidays)
    assert (list(found.sums), found.total) == (row[4].split("; "), Decimal(row[5]))
    assert found.hours == max(Decimal(row[3]), 8)


def amounts(least, most, places=2):
    return st.decimals(least, most, places=places)


@given(
    st.sets(st.integers(0, 40), min_size=1),
    st.sets(st.integers(0, 40)),
    amounts(0, 24),
    st.builds(
        WetTerms,
        amounts(0, 400),
        minimum_hours=amounts(0, 12, 1),
        overtime_after=st.none() | amounts(0, 12, 1),
        overtime=amounts(1, 2),
        night=amounts(1, 2),
        sunday=amounts(1, 3),
        holiday=amounts(1, 3),
    ),
)
def test_it_is_what_signed_dockets_of_those_days_are_charged(days, holidays, hours, terms):
    first = OUT_AT.date()
    on = [first + timedelta(days=n) for n in sorted(days)]
    free = frozenset(first + timedelta(days=n) for n in holidays)
    dockets = [Docket(f"{day}", day, hours) for day in on]
    ends = datetime(2026, 5, 1, 16, tzinfo=ADELAIDE)
    hire = Hire(OUT_AT, ends, ADELAIDE, holidays=free, dockets=dockets)
    charged = charge(hire, terms=Terms("best rate", wet=terms))
    assert foreseen(on, hours=hours, terms=terms, holidays=free).total == charged.net


def test_hours_below_zero_are_refused():
    with pytest.raises(ValueError, match="below zero"):
        foreseen([OUT_AT.date()], hours=Decimal(-1), terms=PAGE)
