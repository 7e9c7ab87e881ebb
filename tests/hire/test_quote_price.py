"""What a quote comes to, and what it prints whatever was typed: docs/quotes.md works it, and it is what dockets add up to."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire.charges import Docket, Hire, Terms, WetTerms, charge
from hire.charging.carriage import CarriageTerms, carried
from hire.period_price import Period
from hire.quote_price import quoted
from hire.quote_words import every_quote_says
from tests.factories.charges import ADELAIDE, OUT_AT
from tests.factories.money import BODY
from tests.hire.test_period_price import DATES, MONTHLY, TERMS
from tests.hire.test_wet_price import TERMS as WET_TERMS
from tests.worked import tables

WET = WetTerms(
    Decimal(165),
    overtime_after=Decimal(8),
    night=Decimal("1.25"),
    sunday=Decimal(2),
    travel_price=Decimal(95),
)
[ROWS] = tables("quotes.md", "Worked quotes")


def moment(on, hour):
    return datetime.fromisoformat(f"{on}T{hour:02d}:00").replace(tzinfo=ADELAIDE)


def said(words, shift):
    """Terms as the table writes them, and the hours of its shifts."""
    given = {
        "rates": {1: Decimal(290), 7: Decimal(1450)},
        "month_price": Decimal(5000),
        "tax_rate": Decimal("0.1"),
    }
    carriage, hours = {}, (Decimal(0), Decimal(0))
    for part in words.split("; "):
        match part.split():
            case ["fixed", "month"]:
                given |= {"rule": "fixed", "fixed_length": 0}
            case ["calendar", "month", price]:
                given |= {"month": "calendar", "month_price": Decimal(price)}
            case ["minimum", days]:
                given["minimum_days"] = int(days)
            case ["delivery" | "collection" as way, price]:
                carriage[way] = Decimal(price)
            case ["km", km]:
                carriage |= {"by": "km", "km": Decimal(km)}
            case ["waiver", "a", "day", price]:
                given["waiver_day"] = Decimal(price)
            case ["waiver", share]:
                given["waiver_share"] = Decimal(share) / 100
            case ["wet", *figures]:
                given["wet"], hours = WET, tuple(map(Decimal, figures))
            case rule:
                given["rule"] = " ".join(rule)
    shifts = 1 if "wet" in given else {"both": 2}.get(shift, 1)
    return Terms(**given, carriage=CarriageTerms(**carriage), shifts_a_day=shifts), hours


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_the_worked_table_of_the_page_is_true(row):
    _case, first, last, shift, words, lines, *sums = row
    terms, (hours, travel) = said(words, shift)
    period = Period(moment(first, 6), moment(last, 22), ADELAIDE, shift, hours=hours, travel_hours=travel)
    found = quoted(period, terms)
    assert " + ".join(str(line.amount) for line in found.lines) == lines
    assert [str(found.net), str(found.tax), str(found.total)] == sums


CARRIAGE = st.builds(
    CarriageTerms,
    st.none() | st.integers(50, 500).map(Decimal),
    st.none() | st.integers(50, 500).map(Decimal),
    by=st.sampled_from(["trip", "km"]),
    km=st.integers(1, 90).map(Decimal),
)


def documents(hire, terms, through):
    """The dockets of a hire: one up to a day while it is out, and the last, once the cart is back."""
    out = replace(hire, off_hire_at=None, extras=list(carried(terms.carriage, is_back=False)))
    first = charge(out, terms=terms, through=through)
    back = replace(hire, extras=list(carried(terms.carriage, is_back=True)))
    return first, charge(back, terms=terms, earlier=[first.billed])


SHIFTS = st.sampled_from(["day", "night", "both"])
TAXED = st.builds(
    replace, TERMS | MONTHLY, carriage=CARRIAGE, waiver_day=st.integers(0, 40).map(Decimal), tax_rate=st.just(Decimal("0.1"))
)  # fmt: skip


@given(terms=TAXED, span=st.tuples(st.integers(1, 45 * 24), st.integers(0, 45)), free=DATES, shift=SHIFTS)
def test_a_dry_quote_is_what_the_dockets_of_its_hire_add_up_to(terms, span, free, shift):
    """An interim docket and the last, two shifts a day or one, and nothing that happens."""
    holidays = frozenset(OUT_AT.date() + timedelta(days=n) for n in free - {0})
    terms = replace(terms, shifts_a_day=2 if shift == "both" else 1)
    period = Period(OUT_AT, OUT_AT + timedelta(hours=span[0]), ADELAIDE, shift)
    found = quoted(period, terms, holidays)
    week = period.week(terms, holidays)
    hire = Hire(OUT_AT, period.end, ADELAIDE, agreed_days=len(period.days(week)), holidays=holidays)
    first, last = documents(hire, terms, min(OUT_AT.date() + timedelta(days=span[1]), period.last))
    assert found.net == first.net + last.net
    assert found.total == found.net + found.tax
    assert sum(line.amount for line in found.lines) == found.net


WET_TAXED = st.builds(
    Terms, st.just("best rate"), wet=WET_TERMS, carriage=CARRIAGE, days_in_week=st.sampled_from([5, 6, 7]),
    waiver_share=st.just(Decimal("0.12")),
)  # fmt: skip
FIGURES = st.tuples(st.integers(1, 20 * 24), st.integers(0, 24).map(Decimal), st.integers(0, 5).map(Decimal))


@given(terms=WET_TAXED, figures=FIGURES, shift=SHIFTS, free=DATES)
def test_a_wet_quote_is_what_the_signed_dockets_of_its_hire_add_up_to(terms, figures, shift, free):
    span, hours, travel = figures
    holidays = frozenset(OUT_AT.date() + timedelta(days=n) for n in free)
    end = OUT_AT + timedelta(hours=span)
    period = Period(OUT_AT, end, ADELAIDE, shift, hours=hours, travel_hours=travel)
    week = period.week(terms, holidays)
    shifts = {"day": [False], "night": [True], "both": [False, True]}[shift]
    dockets = [
        Docket(f"{on} {is_night}", on, hours, travel, is_night=is_night)
        for is_night in shifts
        for on in (period.nights(week) if is_night else period.days(week))
    ]
    extras = list(carried(terms.carriage, is_back=True))
    hire = Hire(OUT_AT, end, ADELAIDE, holidays=holidays, dockets=dockets, extras=extras)
    found = quoted(period, terms, holidays)
    assert found.net == charge(hire, terms=terms).net == sum(line.amount for line in found.lines)


def test_a_way_by_the_km_that_nobody_said_is_refused():
    terms = Terms("best rate", {1: Decimal(290)}, carriage=CarriageTerms(Decimal(2), by="km"))
    with pytest.raises(ValueError, match="give the km of the way"):
        quoted(Period(OUT_AT, OUT_AT + timedelta(days=1), ADELAIDE), terms)


HOURS = {"hours_in_day": "8", "hour_price": "95", "pool": "week", "clock": "pump"}


@pytest.mark.parametrize(
    ("body", "says"),
    [
        pytest.param(
            {},
            ["7 hire days, every day", "four weeks, 28 hire days, at 5,000.00",
             "not counted: the price is by the day, whatever the hours", "nothing to pool", "none"],
            id="nothing said of hours",
        ),
        pytest.param(
            HOURS | {"days_in_week": "5", "month": "calendar", "month_price": "5200"},
            ["5 hire days, Monday to Friday", "from a day to the same day of the next month, at 5,200.00",
             "8 h a day; 95.00 an hour over", "over each week from the handover", "pump hours"],
            id="hours by the week",
        ),
        pytest.param(
            HOURS | {"shifts": "2", "rates": {"1": "290"}, "pool": "day"},
            ["7 hire days, every day", "four weeks, 28 hire days, no price of its own",
             "8 h a day and shift, 2 shifts a day; 95.00 an hour over", "each day by itself", "pump hours"],
            id="two shifts",
        ),
        pytest.param(
            {"wet_hour_price": "165", "wet_minimum_hours": "6.5"},
            ["7 hire days, every day", "four weeks, 28 hire days, no price of its own",
             "6.5 h a docket at least; every hour on it is charged", "each docket by itself",
             "none: the hours are those of the signed daily docket"],
            id="wet",
        ),
    ],
)  # fmt: skip
def test_every_quote_says_how_days_and_hours_are_counted(body, says):
    found = every_quote_says(BODY | body, rule="best rate")
    assert [what for what, _ in found] == [
        "Days in a week", "Days in a month", "Hours included", "Hours pooled", "Meter"
    ]  # fmt: skip
    assert [words for _, words in found] == says
