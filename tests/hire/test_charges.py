"""Charges as lines that show their working, for dry hire and wet."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from hire.charges import (
    Billed,
    Docket,
    Fuel,
    Item,
    StandDownTerms,
    Terms,
    TyreDamage,
    WetTerms,
    charge,
)
from tests.factories.charges import (
    BEST,
    ENGINE,
    WET,
    broken,
    hire,
    rain,
    read,
    workings,
)


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


def test_what_fills_up_the_minimum_later_names_no_day_the_cart_was_not_there():
    terms = replace(BEST, minimum_days=7)
    first = charge(hire(3), terms=replace(terms, minimum_days=0), through=date(2026, 3, 4))
    (line,) = charge(hire(3), terms=terms, earlier=[first.billed]).lines[:1]
    assert line.what == "Hire, the rest of the minimum"
    assert line.working == "minimum hire, 4 days: 4 × 290.00"


def test_a_wet_day_that_was_worked_costs_no_day_of_rain_besides():
    terms = replace(BEST, wet=WET, stand_down=StandDownTerms(price=Decimal(120)))
    dockets = [
        Docket("1", date(2026, 3, 3), Decimal(8)),
        Docket("2", date(2026, 3, 5), Decimal(8), is_signed=False),
    ]
    found = charge(hire(7, stand_downs=[rain(day) for day in (3, 4, 5)], dockets=dockets), terms=terms)
    assert [line.key for line in found.lines] == ["docket 1", "rain 2026-03-04", "rain 2026-03-05"]


@pytest.mark.parametrize(
    ("docket", "lines"),
    [
        pytest.param(
            Docket("1", date(2026, 3, 3), Decimal(0), cancelled_late=True),
            [1650],
            id="cancelled late: nobody worked",
        ),
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(6)), [1650], id="short: nobody worked the rest"),
        pytest.param(
            Docket("1", date(2026, 3, 3), Decimal(9)),
            [1485, 247.5],
            id="9 h: the ninth is over, the tenth is not",
        ),
        pytest.param(Docket("1", date(2026, 3, 3), Decimal(11)), [1320, 742.5], id="11 h: three over"),
    ],
)
def test_hours_nobody_worked_are_never_overtime(docket, lines):
    """A minimum of 10 h over an overtime limit of 8: docs/charges.md."""
    terms = replace(BEST, wet=WetTerms(Decimal(165), minimum_hours=Decimal(10), overtime_after=Decimal(8)))
    found = charge(hire(9, dockets=[docket]), terms=terms)
    assert [one.amount for one in found.lines] == [Decimal(str(one)) for one in lines]
    assert sum(one.quantity for one in found.lines) == max(docket.hours, Decimal(10))
