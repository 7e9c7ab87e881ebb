"""Documents of one hire: together the whole to the cent, each saying why days charged before come to another amount."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hire.charges import Billed, Hire, HoursTerms, Item, Reading, StandDown, Terms, cents, charge

ADELAIDE = ZoneInfo("Australia/Adelaide")
OUT_AT = datetime(2026, 3, 2, 6, tzinfo=ADELAIDE)
CARD = {1: Decimal("290.00"), 7: Decimal("1450.00")}
BEST = Terms("best rate", CARD, month_price=Decimal("5000.00"), tax_rate=Decimal("0.1"))
RULES = {
    "best rate": BEST,
    "as agreed": replace(BEST, rule="as agreed"),
    "fixed": replace(BEST, rule="fixed", fixed_length=7),
    "agreed minimum": replace(BEST, rule="agreed minimum", minimum_days=20),
    "calendar months": replace(BEST, month="calendar"),
    "shares of calendar months": replace(BEST, month="calendar", rule="as agreed"),
    "a working week": replace(BEST, days_in_week=5, rates={1: Decimal(290), 5: Decimal(1160)}),
}


def hire(days, **facts):
    return Hire(OUT_AT, OUT_AT + timedelta(days=days - 1, hours=9), ADELAIDE, **facts)


def documents(one, terms, bills):
    earlier: list[Billed] = []
    found = []
    for through in [*bills, None]:
        found.append(charge(one, terms=terms, through=through, earlier=earlier))
        earlier.append(found[-1].billed)
    return found


def full_hire(days, rain_days=()):
    start = OUT_AT.date()
    return hire(
        days,
        agreed_days=40,
        readings=[
            Reading(OUT_AT + timedelta(days=day, hours=12 * bool(day)), Decimal(1000 + 9 * day))
            for day in range(0, days, 5)
        ],
        stand_downs=[
            StandDown(start + timedelta(days=day), "rain", OUT_AT + timedelta(days=day)) for day in rain_days
        ],
        extras=[Item("delivery", "Delivery", Decimal(1), "trip", Decimal("180.05"))],
    )


@pytest.mark.parametrize("rule", RULES)
@given(
    days=st.integers(2, 120),
    cuts=st.sets(st.integers(0, 110), max_size=5),
    rain=st.sets(st.integers(0, 100), max_size=4),
    re_rates=st.booleans(),
    pool=st.sampled_from(["day", "week", "whole hire"]),
)
@settings(max_examples=25)
def test_any_documents_add_up_to_the_whole(*, rule, days, cuts, rain, re_rates, pool):
    terms = replace(
        RULES[rule],
        re_rates_on_early_return=re_rates,
        waiver_share=Decimal("0.11"),
        hours=HoursTerms(Decimal(8), "engine", pool, Decimal("95.55")),
    )
    one = full_hire(days, rain)
    bills = [OUT_AT.date() + timedelta(days=cut) for cut in sorted(cuts) if cut < days - 1]
    found = documents(one, terms, bills)
    whole = charge(one, terms=terms)
    assert sum(each.net for each in found) == whole.net
    keys = {key for each in (*found, whole) for key in each.billed.amounts}
    for key in keys:
        assert sum(each.billed.amounts.get(key, 0) for each in found) == whole.billed.amounts.get(key, 0)
    assert all(each.tax == cents(each.net * Decimal("0.1")) for each in found)


def test_a_fixed_rate_never_needs_a_correction():
    bills = [OUT_AT.date() + timedelta(days=day) for day in range(0, 90, 3)]
    found = documents(hire(95), RULES["fixed"], bills)
    assert all(line.unit != "correction" for each in found for line in each.lines)
    assert sum(each.net for each in found) == Decimal("19678.57")


def test_the_credit_of_a_better_rate_says_why():
    new, back = documents(hire(30), BEST, [date(2026, 3, 15)])[1].lines
    assert (new.what, new.amount) == ("Hire, 16 March 2026 to 31 March 2026", Decimal("3480.00"))
    assert (back.what, back.amount) == ("Hire to 31 March 2026, credit", Decimal("-800.00"))
    assert back.working == (
        "Best rate over all days so far: 30 days as 1 month of 4 weeks and 2 days: 1 × 5,000.00 + 2 × 290.00 = 5,580.00"
        " to date; 2,900.00 charged before and 3,480.00 above, so credit 800.00"
    )


def test_a_cent_kept_back_is_told():
    fixed = documents(hire(80), RULES["fixed"], [date(2026, 3, 31), date(2026, 4, 30)])[1]
    assert fixed.lines[0].working == (
        "30 days at the week rate: 30 × 1,450.00 / 7; 6,214.28 so that the documents add up to 12,428.57"
    )


def test_rain_agreed_late_comes_back_with_the_next_document():
    first = charge(hire(40), terms=RULES["fixed"], through=date(2026, 3, 31))
    agreed = StandDown(date(2026, 3, 20), "rain", datetime(2026, 3, 20, 6, tzinfo=ADELAIDE))
    late = charge(hire(40, stand_downs=[agreed]), terms=RULES["fixed"], earlier=[first.billed])
    new, back = late.lines
    assert (new.amount, back.amount) == (Decimal("2071.43"), Decimal("-207.15"))
    assert back.working.startswith("The days charged before have changed: less 1 day for rain, 39 days")


def test_an_early_return_of_a_hire_charged_ahead_comes_back_once():
    agreed = replace(RULES["as agreed"], re_rates_on_early_return=True)
    ahead = charge(Hire(OUT_AT, None, ADELAIDE, agreed_days=28), terms=agreed, through=date(2026, 3, 29))
    assert ahead.net == Decimal("5000.00")
    back = charge(hire(10, agreed_days=28), terms=agreed, earlier=[ahead.billed])
    (line,) = back.lines
    assert line.amount == -back.early_return_credit == Decimal("-2928.57")
    assert line.working.startswith("Back after 10 of 28 days agreed: 10 days at the week rate")
    again = charge(hire(10, agreed_days=28), terms=agreed, earlier=[ahead.billed, back.billed])
    assert (again.lines, again.net) == ((), Decimal("0.00"))


def test_days_already_charged_are_not_charged_again():
    first = charge(hire(30), terms=BEST)
    again = charge(hire(30), terms=BEST, earlier=[first.billed])
    assert (again.lines, again.total) == ((), Decimal("0.00"))


def test_the_order_of_the_documents_before_does_not_matter():
    found = documents(hire(60), BEST, [date(2026, 3, 15), date(2026, 3, 31)])
    earlier = [found[1].billed, found[0].billed]
    assert charge(hire(60), terms=BEST, earlier=earlier).lines == found[2].lines


def test_a_charge_that_is_gone_comes_back_as_a_credit():
    fine = Item("fine 4", "Fine", Decimal(1), "fine", Decimal(210))
    first = charge(hire(30, extras=[fine]), terms=BEST, through=date(2026, 3, 15))
    (back,) = [
        line for line in charge(hire(30), terms=BEST, earlier=[first.billed]).lines if line.key == "fine 4"
    ]
    assert (back.amount, back.what) == (Decimal("-210.00"), "No longer charged: Fine")


def test_a_charge_that_changed_is_put_right_by_its_difference():
    first = charge(hire(30, extras=[Item("trip", "Delivery", Decimal(2), "trip", Decimal(180))]), terms=BEST)
    one = hire(30, extras=[Item("trip", "Delivery", Decimal(1), "trip", Decimal(180))])
    (back,) = charge(one, terms=BEST, earlier=[first.billed]).lines
    assert (back.amount, back.unit) == (Decimal("-180.00"), "correction")
    assert back.working == "1 trip × 180.00 = 180.00 to date; 360.00 charged before"


def test_hours_pooled_over_the_whole_hire_wait_for_its_end():
    readings = [Reading(OUT_AT, Decimal(0)), Reading(datetime(2026, 3, 8, 18, tzinfo=ADELAIDE), Decimal(70))]
    terms = replace(BEST, hours=HoursTerms(Decimal(8), "engine", "whole hire", Decimal(95)))
    first, last = documents(hire(14, readings=readings), terms, [date(2026, 3, 8)])
    assert [line.key for line in (*first.lines, *last.lines)] == ["hire", "hire"]


def test_a_week_that_still_runs_waits_for_its_end():
    evening = datetime(2026, 3, 4, 18, tzinfo=ADELAIDE)
    readings = [Reading(OUT_AT, Decimal(0)), Reading(evening, Decimal(36))]
    readings.append(Reading(evening + timedelta(days=4), Decimal(60)))
    terms = replace(BEST, hours=HoursTerms(Decimal(8), "engine", "week", Decimal(95)))
    first, second, _last = documents(hire(14, readings=readings), terms, [date(2026, 3, 4), date(2026, 3, 8)])
    assert [line.key for line in first.lines] == ["hire"]
    assert [line.quantity for line in second.lines if line.key == "hours 2026-03-08"] == [Decimal(4)]


def test_a_bill_period_pools_its_own_hours():
    readings = [
        Reading(OUT_AT, Decimal(0)),
        Reading(datetime(2026, 3, 8, 18, tzinfo=ADELAIDE), Decimal(70)),
        Reading(datetime(2026, 3, 15, 15, tzinfo=ADELAIDE), Decimal(80)),
    ]
    terms = replace(BEST, hours=HoursTerms(Decimal(8), "engine", "bill period", Decimal(95)))
    first, last = documents(hire(14, readings=readings), terms, [date(2026, 3, 8)])
    assert [line.quantity for line in first.lines if line.key.startswith("hours")] == [Decimal(14)]
    assert [line.key for line in last.lines] == ["hire"]
