"""What charges refuse, each with its sentence."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from hire.charges import (
    Docket,
    Fuel,
    Hire,
    Terms,
    charge,
    tyre_charge,
)
from tests.factories.charges import (
    ADELAIDE,
    BEST,
    CARD,
    ENGINE,
    OUT_AT,
    WET,
    broken,
    hire,
    rain,
    read,
)


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
