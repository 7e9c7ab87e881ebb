"""The worked tables of docs/cross-hire.md, by hand, against the rule."""

from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.charge_stop import charge_stops_at
from hire.cross_hire import Span, days_had, last_charged, owner_cost, parted, shared
from tests.worked import tables

ADELAIDE = ZoneInfo("Australia/Adelaide")
RATES = {1: Decimal(100), 7: Decimal(500), 28: Decimal(1600)}
COSTS, CALLS = tables("cross-hire.md", "What the owner charges")
[PARTS] = tables("cross-hire.md", "Which hire bears it")
_, AMOUNTS, DAYS = tables("cross-hire.md", "What a cart earned where one was swapped")
DAY = date.fromisoformat


@pytest.mark.parametrize("row", COSTS, ids=lambda row: row[-1])
def test_what_the_owner_charges(row):
    first, last, minimum, charged, total, _ = row
    cost = owner_cost(first=DAY(first), last=DAY(last), rates=RATES, minimum_days=int(minimum))
    assert (cost.charged, cost.total) == (int(charged), Decimal(total.replace(",", "")))


@pytest.mark.parametrize("row", CALLS, ids=lambda row: row[0])
def test_when_a_call_stops_it(row):
    called, stops, last = row
    called_at, stops_at = (datetime.fromisoformat(each).replace(tzinfo=ADELAIDE) for each in (called, stops))
    assert charge_stops_at(called_at, cut_off=time(14), zone=ADELAIDE) == stops_at
    assert last_charged(stops_at, zone=ADELAIDE) == DAY(last)


def test_which_hire_bears_it():
    *rows, idle = PARTS
    cost = owner_cost(first=date(2026, 11, 2), last=date(2026, 11, 10), rates=RATES)
    found = shared(cost, [Span(name, DAY(first), DAY(last)) for name, first, last, *_ in rows])
    told = {name: (share.days, share.amount) for name, share in found.by_hire.items()}
    assert told == {name: (int(days), Decimal(bears)) for name, _, _, days, bears in rows}
    assert (found.idle.days, found.idle.amount) == (int(idle[3]), Decimal(idle[4]))
    assert sum(share.amount for share in found.by_hire.values()) + found.idle.amount == cost.total


def by_cart(words, number):
    return {name: number(each) for name, each in (one.split() for one in words.split(", "))}


@pytest.mark.parametrize("row", AMOUNTS, ids=" ".join)
def test_shares_add_up_to_the_line(row):
    amount, days, shares = row
    found = parted(Decimal(amount), by_cart(days, int))
    assert found == by_cart(shares, Decimal)
    assert sum(found.values()) == Decimal(amount)


@given(
    st.decimals(min_value=-99999, max_value=99999, places=2),
    st.lists(st.integers(0, 400), min_size=1, max_size=6).filter(any),
)
def test_whatever_the_days_no_share_is_a_cent_or_more_off(amount, days):
    found = parted(amount, {str(n): count for n, count in enumerate(days)})
    assert sum(found.values()) == amount
    for n, count in enumerate(days):
        assert abs(Fraction(found[str(n)]) - Fraction(amount) * count / sum(days)) <= Fraction(1, 100)


def test_nothing_is_parted_by_no_days():
    with pytest.raises(ValueError, match="no days"):
        parted(Decimal(1), {"A": 0})


@pytest.mark.parametrize("row", DAYS, ids=" ".join)
def test_a_day_is_of_the_cart_that_was_there_first(row):
    first, last, days = row
    spans = [Span("A", DAY("2026-11-02"), DAY("2026-11-04")), Span("B", DAY("2026-11-06"), DAY("2026-11-10"))]
    assert days_had(spans, first=DAY(first), last=DAY(last)) == by_cart(days, int)


def test_midnight_is_the_day_before():
    assert last_charged(datetime(2026, 11, 11, tzinfo=ADELAIDE), zone=ADELAIDE) == date(2026, 11, 10)


def test_the_days_the_minimum_adds_are_on_no_hire():
    cost = owner_cost(first=date(2026, 11, 2), last=date(2026, 11, 2), rates=RATES, minimum_days=4)
    found = shared(cost, [Span("A", date(2026, 11, 2), date(2026, 11, 2))])
    assert (found.by_hire["A"].amount, found.idle.days, found.idle.amount) == (Decimal(100), 3, Decimal(300))


@pytest.mark.parametrize(
    "wrong",
    [{"last": date(2026, 11, 1)}, {"minimum_days": -1}, {"rates": {}}, {"rates": {1: Decimal(-1)}}],
    ids=["ends before it starts", "minimum", "no rates", "price"],
)
def test_what_cannot_be_reckoned_is_said(wrong):
    asked = {"first": date(2026, 11, 2), "last": date(2026, 11, 3), "rates": RATES} | wrong
    with pytest.raises(ValueError, match=r"\."):
        owner_cost(**asked)
