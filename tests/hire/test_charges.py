"""Charges as lines that show their working: what is said, what is refused, what is noted, and clock changes."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from hire.charges import (
    Billed,
    Docket,
    Fuel,
    Hire,
    HoursTerms,
    Item,
    Reading,
    StandDown,
    StandDownTerms,
    Terms,
    TyreDamage,
    WetTerms,
    best_rate,
    charge,
    tyre_charge,
)

ADELAIDE = ZoneInfo("Australia/Adelaide")
# A Monday.
OUT_AT = datetime(2026, 3, 2, 6, tzinfo=ADELAIDE)
CARD = {1: Decimal("290.00"), 7: Decimal("1450.00")}
BEST = Terms("best rate", CARD, month_price=Decimal("5000.00"))
ENGINE = HoursTerms(Decimal(8), "engine", "whole hire", Decimal(95))


def hire(days, **facts):
    return Hire(OUT_AT, OUT_AT + timedelta(days=days - 1, hours=9), ADELAIDE, **facts)


def read(day, hour, value, meter=""):
    return Reading(datetime(2026, 3, day, hour, tzinfo=ADELAIDE), Decimal(value), meter)


def rain(day, hour=6, **facts):
    return StandDown(date(2026, 3, day), "rain", datetime(2026, 3, day, hour, tzinfo=ADELAIDE), **facts)


def broken(day, told_day=None, **facts):
    told = datetime(2026, 3, told_day or day, 10, tzinfo=ADELAIDE)
    return StandDown(date(2026, 3, day), "breakdown", told, **facts)


def utc(*numbers):
    return datetime(*numbers, tzinfo=UTC)


def workings(found):
    return [line.working for line in found.lines]


# Words a desk can read out.


@pytest.mark.parametrize(
    ("terms", "days", "says"),
    [
        pytest.param(BEST, 22, "22 days as 3 weeks and 1 day: 3 × 1,450.00 + 1 × 290.00", id="best rate"),
        pytest.param(BEST, 1, "1 day: 1 × 290.00", id="one day"),
        pytest.param(BEST, 7, "7 days as 1 week: 1 × 1,450.00", id="a week"),
        pytest.param(
            BEST,
            37,
            "37 days as 1 month of 4 weeks, 1 week and 2 days: 1 × 5,000.00 + 1 × 1,450.00 + 2 × 290.00",
            id="all",
        ),
        pytest.param(
            replace(BEST, rule="as agreed"), 22, "22 days at the week rate: 22 × 1,450.00 / 7", id="as agreed"
        ),
        pytest.param(
            replace(BEST, rule="as agreed"),
            30,
            "30 days at the 4-week rate: 30 × 5,000.00 / 28",
            id="four weeks",
        ),
        pytest.param(replace(BEST, rule="as agreed"), 3, "3 days: 3 × 290.00", id="by the day"),
        pytest.param(
            Terms("fixed", {10: Decimal(2000)}),
            25,
            "25 days at the 10-day rate: 25 × 2,000.00 / 10",
            id="fixed",
        ),
        pytest.param(
            replace(BEST, shifts_a_day=2),
            8,
            "8 days as 1 week and 1 day: (1 × 1,450.00 + 1 × 290.00) × 1.5 for 2 shifts a day",
            id="two shifts",
        ),
        pytest.param(
            replace(BEST, month="calendar"),
            33,
            "33 days as 1 calendar month and 2 days: 1 × 5,000.00 + 2 × 290.00",
            id="calendar month",
        ),
        pytest.param(
            replace(BEST, month="calendar", rule="as agreed"),
            33,
            "33 days as 1 calendar month and 2 of the 30 days of a month: 1 × 5,000.00 + 2/30 × 5,000.00",
            id="shares of a calendar month",
        ),
    ],
)
def test_the_hire_is_told_in_words(terms, days, says):
    assert workings(charge(hire(days), terms=terms)) == [says]


@pytest.mark.parametrize(
    ("days", "claims", "says"),
    [
        pytest.param(22, [rain(12)], "less 1 day for rain, 21 days as 3 weeks: 3 × 1,450.00", id="rain"),
        pytest.param(
            9,
            [broken(3), broken(4), rain(9)],
            "less 1 day for rain, less 2 days broken down, 6 days as 1 week: 1 × 1,450.00",
            id="both",
        ),
        pytest.param(3, [], "minimum hire, 5 days as 1 week: 1 × 1,450.00", id="minimum"),
    ],
)
def test_what_took_days_off_or_put_them_on_is_told(days, claims, says):
    assert workings(charge(hire(days, stand_downs=claims), terms=replace(BEST, minimum_days=5))) == [says]


def test_a_line_of_one_unit_carries_its_count_and_price():
    (weeks,) = charge(hire(21), terms=BEST).lines
    assert (weeks.quantity, weeks.unit, weeks.unit_price) == (3, "week", Decimal("1450.00"))
    (mixed,) = charge(hire(22), terms=BEST).lines
    assert (mixed.quantity, mixed.unit, mixed.unit_price) == (1, "hire", Decimal("4640.00"))
    assert mixed.what == "Hire, 2 March 2026 to 23 March 2026"


def test_a_quantity_at_its_price_is_the_amount_on_every_line():
    full = hire(
        22,
        readings=[read(2, 6, 1000), read(23, 15, "1200.3")],
        stand_downs=[rain(10)],
        extras=[
            Item("delivery", "Delivery", Decimal(2), "trip", Decimal(180)),
            Fuel("D7", Decimal("312.5"), Decimal("1.985")),
            TyreDamage("left steer", Decimal(980), Decimal(18), Decimal(11), Decimal(4), Decimal(120)),
        ],
    )
    terms = replace(
        BEST, hours=ENGINE, waiver_share=Decimal("0.12"), stand_down=StandDownTerms(price=Decimal(120))
    )
    earlier: list[Billed] = []
    for through in (date(2026, 3, 9), None):
        found = charge(full, terms=terms, through=through, earlier=earlier)
        earlier.append(found.billed)
        assert len(found.lines) >= 5
        for line in found.lines:
            assert (
                round(line.quantity * line.unit_price, 6).quantize(Decimal("0.01"), "ROUND_HALF_UP")
                == line.amount
            )
            assert line.working
        assert found.net == sum(line.amount for line in found.lines)


def test_the_tyre_line_says_what_was_left():
    tyre = TyreDamage("left steer", Decimal(980), Decimal(18), Decimal(11), Decimal(4), Decimal(120))
    assert (
        tyre.line().working
        == "7 of 14 mm of tread were left when it went out: 980.00 × 7 / 14 + call-out 120.00"
    )


# Days stood down.


@pytest.mark.parametrize(
    ("claims", "terms", "days", "note"),
    [
        pytest.param([rain(10)], {}, 21, None, id="told in time"),
        pytest.param([rain(10, 7)], {}, 21, None, id="told on the stroke"),
        pytest.param(
            [rain(10, 8)], {}, 22, "told on 10 March 2026 at 08:00, after 07:00 that day", id="late"
        ),
        pytest.param(
            [replace(rain(10), told_at=None)], {}, 22, "nobody told the yard by 07:00", id="not told"
        ),
        pytest.param([rain(10, 23)], {"told_by": None}, 21, None, id="no hour asked"),
        pytest.param([rain(10, worked_hours=Decimal(2))], {}, 21, None, id="two hours on the clock"),
        pytest.param([rain(10, worked_hours=Decimal("2.1"))], {}, 22, "gained 2.1 h, over 2", id="it worked"),
        pytest.param([rain(10), rain(11)], {"cap_days": 1}, 21, "cap of 1 day is used", id="over the cap"),
        pytest.param([rain(10)], {"cap_days": 0}, 22, "cap of 0 days is used", id="no rain at all"),
        pytest.param([broken(10)], {"cap_days": 0}, 21, None, id="a breakdown has no cap"),
        pytest.param([broken(10, 11)], {}, 22, "notice came on 11 March 2026", id="before notice"),
        pytest.param([broken(11, 10)], {}, 21, None, id="the day after notice"),
        pytest.param([broken(10, lost_hours=Decimal(4))], {}, 21, None, id="at the threshold"),
        pytest.param([broken(10, lost_hours=Decimal("3.9"))], {}, 22, "3.9 h lost, under 4", id="under it"),
        pytest.param([broken(10, cause="tyres")], {}, 22, "caused by tyres", id="tyres"),
        pytest.param([broken(10, cause="misuse")], {}, 22, "caused by misuse", id="misuse"),
        pytest.param([replace(broken(10), told_at=None)], {}, 22, "no notice was given", id="no notice"),
        pytest.param([rain(30)], {}, 22, None, id="after the hire"),
    ],
)
def test_a_day_is_taken_off_or_noted(claims, terms, days, note):
    found = charge(hire(22, stand_downs=claims), terms=replace(BEST, stand_down=StandDownTerms(**terms)))
    assert found.hire_days == days
    assert [note in each for each in found.notes] == ([True] if note else [])


def test_the_hour_of_notice_is_that_of_the_place():
    told = datetime(2026, 3, 9, 20, 31, tzinfo=UTC)
    late = StandDown(date(2026, 3, 10), "rain", told)
    assert charge(hire(22, stand_downs=[late]), terms=BEST).notes[0].endswith("07:00 that day.")
    assert (
        charge(hire(22, stand_downs=[replace(late, told_at=told - timedelta(minutes=1))]), terms=BEST).notes
        == ()
    )


def test_hours_of_a_stood_down_day_do_not_count():
    daily = [read(2, 6, 1000), *(read(day, 18, 1000 + 8 * (day - 1)) for day in range(2, 9))]
    by_day = replace(BEST, hours=replace(ENGINE, pool="day"))
    assert len(charge(hire(7, readings=daily, stand_downs=[rain(4)]), terms=by_day).lines) == 1


# Hours over.


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


# Wet hire.


WET = WetTerms(
    Decimal(160),
    travel_price=Decimal(90),
    overtime_after=Decimal(8),
    night=Decimal("1.25"),
    sunday=Decimal(2),
    holiday=Decimal("2.5"),
)


@pytest.mark.parametrize(
    ("docket", "amounts"),
    [
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(6)), [1280], id="the minimum"),
        pytest.param(
            Docket("1", date(2026, 3, 3), Decimal(0), cancelled_late=True), [1280], id="cancelled late"
        ),
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(8), is_night=True), [1600], id="night"),
        pytest.param(
            Docket("1", date(2026, 3, 8), Decimal(8), is_night=True),
            [2560],
            id="a Sunday night: Sunday alone",
        ),
        pytest.param(Docket("1", date(2026, 3, 9), Decimal(8)), [3200], id="a public holiday"),
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(10)), [1280, 480], id="overtime"),
        pytest.param(
            Docket("1", date(2026, 3, 8), Decimal(10)), [2560, 640], id="overtime of a Sunday is Sunday's"
        ),
        pytest.param(
            Docket("1", date(2026, 3, 3), Decimal(8), travel_hours=Decimal(2)), [1280, 180], id="travel"
        ),
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(8), is_signed=False), [], id="nobody signed"),
        pytest.param(Docket("1", date(2026, 3, 1), Decimal(8)), [], id="before the hire"),
        pytest.param(Docket("1", date(2026, 3, 16), Decimal(8)), [], id="after the hire"),
    ],
)
def test_a_docket_is_charged(docket, amounts):
    found = charge(
        hire(14, dockets=[docket], holidays=frozenset({date(2026, 3, 9)})), terms=Terms("as agreed", wet=WET)
    )
    assert [line.amount for line in found.lines] == amounts
    assert bool(found.notes) is (not amounts)


# Clock changes: in Adelaide clocks go back on 5 April 2026 at 3 and forward on 4 October 2026 at 2.


@pytest.mark.parametrize(
    ("out_at", "off_at", "days"),
    [
        pytest.param(utc(2026, 4, 4, 13, 30), utc(2026, 4, 5, 14, 29), 1, id="a day of 25 hours"),
        pytest.param(utc(2026, 4, 4, 13, 29), utc(2026, 4, 5, 14, 30), 2, id="its edges, half-open"),
        pytest.param(utc(2026, 10, 3, 14, 30), utc(2026, 10, 4, 13, 29), 1, id="a day of 23 hours"),
        pytest.param(utc(2026, 10, 3, 14, 29), utc(2026, 10, 4, 13, 31), 3, id="and its edges"),
        pytest.param(utc(2026, 10, 3, 14, 30), utc(2026, 10, 4, 13, 30), 1, id="from midnight to midnight"),
    ],
)
def test_days_are_those_of_the_place(out_at, off_at, days):
    one = Hire(out_at, off_at, ADELAIDE)
    assert charge(one, terms=BEST).hire_days == days


def test_an_off_hire_in_the_hour_that_comes_twice_is_not_before_its_handover():
    handed_over = datetime(2026, 4, 5, 2, 45, tzinfo=ADELAIDE)
    called = datetime(2026, 4, 5, 2, 15, fold=1, tzinfo=ADELAIDE)
    assert charge(Hire(handed_over, called, ADELAIDE), terms=BEST).hire_days == 1
    with pytest.raises(ValueError, match="before the handover"):
        Hire(called, handed_over, ADELAIDE)


@given(st.dates(date(2026, 1, 1), date(2028, 12, 31)), st.integers(1, 400))
@settings(max_examples=60, deadline=None)
def test_calendar_months_run_to_the_same_day_of_the_next(first, days):
    out_at = datetime.combine(first, time(6), tzinfo=ADELAIDE)
    last = first + timedelta(days=days - 1)
    one = Hire(out_at, datetime.combine(last, time(15), tzinfo=ADELAIDE), ADELAIDE)
    costs = []
    for months in range(15):
        inside = min(max((first + relativedelta(months=months) - first).days, 0), days)
        rest = best_rate(days=days - inside, rates=CARD).total if inside < days else 0
        costs.append(months * Decimal(4700) + rest)
    terms = replace(BEST, month="calendar", month_price=Decimal(4700))
    assert charge(one, terms=terms).net == min(costs)


# What is refused.


@pytest.mark.parametrize(
    ("make", "says"),
    [
        pytest.param(lambda: hire(0), "off-hire is before the handover", id="off-hire before handover"),
        pytest.param(lambda: hire(3, agreed_days=0), "agreed for one whole day or more", id="no day agreed"),
        pytest.param(
            lambda: hire(3, readings=[read(3, 6, 1010), read(2, 6, 1011)]),
            "meter went back from 1011 to 1010",
            id="a meter that went back",
        ),
        pytest.param(lambda: read(2, 6, -1), "reading is below zero", id="hours below zero"),
        pytest.param(
            lambda: Docket("9", OUT_AT.date(), Decimal(-8)),
            "docket 9 is below zero",
            id="a docket below zero",
        ),
        pytest.param(lambda: hire(3, stand_downs=[rain(2), broken(2)]), "stood down twice", id="a day twice"),
        pytest.param(
            lambda: hire(3, dockets=[Docket("9", OUT_AT.date(), Decimal(8))] * 2),
            "two dockets 9",
            id="a docket twice",
        ),
        pytest.param(
            lambda: hire(3, extras=[Fuel("7", Decimal(1), Decimal(2))] * 2),
            "called fuel 7",
            id="a charge twice",
        ),
        pytest.param(
            lambda: Fuel("7", Decimal(-1), Decimal(2)), "litres of fuel is below", id="litres below zero"
        ),
        pytest.param(lambda: Terms("best rate", {}), "no rates", id="no rates"),
        pytest.param(
            lambda: Terms("best rate", {0: Decimal(9)}), "one whole day or more", id="a rate with no length"
        ),
        pytest.param(lambda: Terms("best rate", {1: Decimal(-9)}), "below zero", id="a price below zero"),
        pytest.param(
            lambda: replace(BEST, month_price=Decimal(-1)),
            "price for a month is below zero",
            id="a month below zero",
        ),
        pytest.param(lambda: replace(BEST, rule="cheapest"), "rate rule is one of", id="an unknown rule"),
        pytest.param(
            lambda: replace(BEST, days_in_week=4), "days in a week is one of 5, 6, 7", id="a week of four"
        ),
        pytest.param(lambda: replace(BEST, month="31 days"), "month is one of", id="an unknown month"),
        pytest.param(
            lambda: replace(BEST, rates={**CARD, 28: Decimal(1)}), "two prices for 28 days", id="two prices"
        ),
        pytest.param(lambda: replace(BEST, rule="fixed"), "says for which length", id="fixed for what"),
        pytest.param(
            lambda: replace(BEST, rule="fixed", fixed_length=3), "no rate for 3 days", id="fixed for none"
        ),
        pytest.param(lambda: replace(BEST, rule="agreed minimum"), "how many days", id="no minimum"),
        pytest.param(lambda: replace(BEST, tax_rate=Decimal(10)), "0.1 is 10 %", id="ten for a tenth"),
        pytest.param(
            lambda: replace(ENGINE, in_day=Decimal(0)), "above 0 and at most 24", id="no hours in a day"
        ),
        pytest.param(
            lambda: replace(ENGINE, price=Decimal(-1)), "hour over is below zero", id="hours over below zero"
        ),
        pytest.param(lambda: replace(ENGINE, clock="sun"), "clock is one of", id="an unknown clock"),
        pytest.param(
            lambda: replace(WET, sunday=Decimal("0.5")), "loading is 1 or more", id="a loading under one"
        ),
        pytest.param(
            lambda: Hire(OUT_AT.replace(tzinfo=None), None, ADELAIDE), "needs a time zone", id="no zone"
        ),
        pytest.param(lambda: charge(Hire(OUT_AT, None, ADELAIDE), terms=BEST), "still on hire", id="no end"),
        pytest.param(
            lambda: charge(hire(3), terms=BEST, through=date(2026, 3, 1)),
            "hire begins on 2 March 2026",
            id="a bill too soon",
        ),
    ],
)
def test_what_is_refused(make, says):
    with pytest.raises(ValueError, match=says):
        make()


@pytest.mark.parametrize(
    ("depths", "says"),
    [
        pytest.param({"out_mm": Decimal(19)}, "deeper than new", id="deeper than new"),
        pytest.param(
            {"change_out_mm": Decimal(18)}, "deeper than its change-out depth", id="no tread to wear"
        ),
        pytest.param({"out_mm": Decimal(-1)}, "depth out is below zero", id="below zero"),
        pytest.param({"fitted_cost": Decimal(-1)}, "fitted cost is below zero", id="a cost below zero"),
    ],
)
def test_a_tyre_that_cannot_be(depths, says):
    given = {"fitted_cost": 980, "new_mm": 18, "out_mm": 11, "change_out_mm": 4, "call_out": 0}
    with pytest.raises(ValueError, match=says):
        tyre_charge(**{name: Decimal(value) for name, value in given.items()} | depths)


def test_a_cut_off_stops_the_day_of_the_call():
    early = replace(BEST, cut_off=time(16))
    assert (charge(hire(3), terms=early).hire_days, charge(hire(3), terms=BEST).hire_days) == (2, 3)
