"""Wet hire is charged by its signed daily dockets, from the rows to the cent, by docs/charges.md."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import daily, money
from hire.models.daily import DailyDocket
from hire.wet_text import wet_from
from tests.factories.hire import LineFactory
from tests.factories.money import BODY, RateCardFactory
from tests.factories.wet import DailyDocketFactory, wet_out
from tests.pages import text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
AT = datetime(2026, 3, 6, 18, tzinfo=ADELAIDE)
WET = {
    "wet_hour_price": "165", "wet_travel_price": "95", "wet_overtime_after": "8", "wet_overtime": "1.5", "wet_night": "1.25",
    "wet_sunday": "2",
}  # fmt: skip
TYPED = BODY | WET | {"rates": {}}


@pytest.fixture
def turn():
    """Out since Monday 2 March 2026 at six."""
    return wet_out(at=AT, days=4)


def docket(turn, day, finish, **said):
    on = date(2026, 3, day)
    start = datetime(2026, 3, day, 6, tzinfo=ADELAIDE)
    ends = datetime(2026, 3, day, finish, 30, tzinfo=ADELAIDE)
    return DailyDocketFactory(turn=turn, on=on, starts_at=start, finishes_at=ends, **said)


def test_the_hire_docket_is_made_of_the_signed_ones(turn, desk):
    """The rows of 2 and 3 March in docs/charges.md, and one nobody signed."""
    money.agree_terms(line=turn.line, rule="as agreed", typed=TYPED, by=desk, at=AT)
    docket(turn, 2, 12, breaks=timedelta(0))
    docket(turn, 3, 16)
    unsigned = docket(turn, 4, 14, unsigned_why="Gate shut")
    made = money.make_docket(line=turn.line, by=desk, at=AT)
    assert [line["amount"] for line in made.body["lines"]] == ["1320.00", "1320.00", "495.00"]
    assert made.net == Decimal("3135.00")
    assert made.body["notes"] == [f"Docket {unsigned.number} is not charged: nobody signed it."]
    daily.sign_daily(docket=unsigned, signed=daily.Signed("Aoife"), by=desk, at=AT)
    assert money.make_docket(line=turn.line, by=desk, at=AT).net == Decimal("1320.00")


def test_what_a_replaced_docket_charged_comes_back_on_the_next(turn, desk):
    money.agree_terms(line=turn.line, rule="as agreed", typed=TYPED, by=desk, at=AT)
    first = docket(turn, 3, 16)
    assert money.make_docket(line=turn.line, by=desk, at=AT).net == Decimal("1815.00")
    day = daily.Day(
        on=first.on, starts_at=first.starts_at, finishes_at=first.finishes_at - timedelta(hours=2), breaks=first.breaks
    )  # fmt: skip
    daily.make_daily(
        line=turn.line, operator=turn.operator, day=day, signed=daily.Signed("Aoife"), replaces=first, why="Left at two",
        by=desk, at=AT,
    )  # fmt: skip
    assert money.make_docket(line=turn.line, by=desk, at=AT).net == Decimal("-495.00")
    assert DailyDocket.objects.count() == 2


def test_a_wet_hire_says_what_an_hour_costs_and_a_dry_one_keeps_no_such_price(turn, desk):
    with pytest.raises(money.NotChargeable) as refused:
        money.agree_terms(
            line=turn.line, rule="best rate", typed=BODY | {"rates": {1: Decimal(290)}}, by=desk, at=AT
        )
    assert refused.value.field == "wet_hour_price"
    dry = money.agree_terms(
        line=LineFactory(), rule="best rate", typed=TYPED | {"rates": {1: Decimal(290)}}, by=desk, at=AT
    )
    assert dry.terms().wet is None
    with pytest.raises(money.NotChargeable, match="rate"):
        money.agree_terms(line=LineFactory(), rule="best rate", typed=TYPED, by=desk, at=AT)


def test_prices_as_text_and_back():
    found = wet_from(WET | {"wet_minimum_hours": "", "wet_holiday": ""})
    assert (found.hour_price, found.minimum_hours, found.night, found.holiday) == (165, 8, Decimal("1.25"), 1)
    assert wet_from({"wet_hour_price": "", "wet_night": "2"}) is None
    with pytest.raises(ValueError, match="1 or more"):
        wet_from(WET | {"wet_night": "0.5"})


def test_the_rate_is_agreed_on_its_page_and_shown_with_the_charges(client, turn, desk):
    client.force_login(desk)
    RateCardFactory(body=BODY | WET)
    address = reverse("hire:terms_agree", args=[turn.line.pk])
    page = client.get(address).content.decode()
    assert 'name="wet_hour_price"' in page and 'value="165"' in page
    typed = {
        "rule": "as agreed",
        "rates": "",
        "tax_pct": "10",
        "days_in_week": "7",
        "clock": "engine",
        "pool": "day",
    } | WET
    assert client.post(address, typed | {"wet_hour_price": ""}).status_code == 422
    assert client.post(address, typed).status_code == 302
    docket(turn, 3, 16)
    said = text_of(client.get(reverse("hire:charges", args=[turn.line.pk])))
    assert "165.00 an hour of cart and operator" in said and "8 h on the docket" not in said
    assert "10 h on the docket: 8 × 165.00" in said
    dry = client.get(reverse("hire:terms_agree", args=[LineFactory().pk])).content.decode()
    assert 'name="wet_hour_price"' not in dry
