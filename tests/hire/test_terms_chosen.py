"""What is chosen on the page of a hire's terms is stored, said in words there and on the docket, and charged to the cent."""

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import money
from hire.charge_facts import charges_to, estimate
from hire.docket_files import docket_html
from hire.models.money import RateCard
from hire.swap_income import docket_parts
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY
from tests.pages import text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
FORM = {name: value for name, value in BODY.items() if name != "rates"} | {"rates": "1: 290\n7: 1,450"}


def at(month, day, hour=15):
    return datetime(2026, month, day, hour, tzinfo=ADELAIDE)


def hired(off, until=None, **agreement):
    """Out on 2 March 2026 at six, agreed until a day (None: until it was called off), called off at 15:00."""
    line = LineFactory(starts_at=at(3, 2, 6), ends_at=until or off, out_at=at(3, 2, 6), **agreement)
    OffHireFactory(line=line, called_at=off, stops_at=off, made_at=off)
    return line


@pytest.fixture
def agree(client, desk):
    """What the desk types, as it is written down."""
    client.force_login(desk)

    def typing(line, **typed):
        address = reverse("hire:terms_agree", args=[line.pk])
        answer = client.post(address, FORM | {"rule": "best rate"} | typed)
        assert answer.status_code == 302, answer.context["form"].errors
        return line.agreed_terms.get()

    return typing


MONTH = {"month": "calendar", "month_price": "5200"}
LASTS = "5,200.00; it is from a day to the same day of the next month"
FOUR_WEEKS = {"month": "28 days", "month_price": "5000"}
AGAIN = "charged once at the rate of the days it stayed, never above the price of the length agreed"


@pytest.mark.parametrize(
    ("typed", "when", "net", "words"),
    [
        pytest.param(MONTH, (at(4, 10),), "7230.00", ("A month", LASTS), id="a calendar month, best rate"),
        pytest.param(
            MONTH | {"rule": "as agreed"}, (at(4, 10),), "6760.00", ("A month", LASTS), id="as agreed"
        ),
        pytest.param(
            FOUR_WEEKS, (at(3, 29),), "5000.00", ("A month", "5,000.00; it is four weeks, 28 hire days"), id="four weeks"
        ),
        pytest.param(
            {"rule": "fixed", "fixed_length": "7"}, (at(3, 31),), "6214.29",
            ("Rate rule", "Fixed: the rate of 7 days, however long it stays"), id="fixed, of a week",
        ),
        pytest.param(
            MONTH | {"rule": "fixed", "fixed_by": "month"}, (at(3, 6),), "838.71",
            ("Rate rule", "Fixed: the price of a calendar month, each day its share of the month it is in, however long it stays"),
            id="fixed, of a calendar month",
        ),
        pytest.param(
            {"rule": "fixed"}, (at(3, 31),), "8700.00",
            ("Rate rule", "Fixed: the rate of 1 day, however long it stays"), id="fixed, of the shortest",
        ),
        pytest.param(
            FOUR_WEEKS | {"rule": "as agreed", "early_return": "re-rates"}, (at(3, 11), at(3, 29)), "2071.43",
            ("Back early", AGAIN), id="re-rated",
        ),
        pytest.param(
            FOUR_WEEKS | {"rule": "as agreed", "early_return": "keeps"}, (at(3, 11), at(3, 29)), "1785.71",
            ("Back early", "the rate of the length agreed stays"), id="the rate stays",
        ),
        pytest.param(
            {"shifts": "3"}, (at(3, 8),), "2900.00", ("Shifts", "3 a day, 2 times the price of one"), id="three shifts"
        ),
        pytest.param(
            {"shifts": "2", "shifts_two": "1.75"}, (at(3, 8),), "2537.50",
            ("Shifts", "2 a day, 1.75 times the price of one"), id="two, as dear as the yard says",
        ),
    ],
)  # fmt: skip
def test_what_is_chosen_is_said_and_charged(agree, client, typed, when, net, words):  # noqa: PLR0917 - a row of the table
    line = hired(*when)
    agreed = agree(line, **typed)
    docket = money.make_docket(line=line, by=agreed.agreed_by, at=when[0])
    assert docket.net == Decimal(net)
    assert list(words) in docket.body["terms"]
    assert words[1] in text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert words[1] in text_of(client.get(reverse("hire:docket_detail", args=[docket.pk])))
    assert words[1] in docket_html(docket)


def test_what_was_chosen_stands_in_the_form_again(agree, client):
    line = hired(at(3, 8))
    agree(line, shifts="3", shifts_three="2.25", fixed_length="7", **MONTH)
    form = client.get(reverse("hire:terms_agree", args=[line.pk])).context["form"]
    names = ("shifts", "shifts_three", "fixed_length", "month", "month_price")
    assert [str(form[name].value()) for name in names] == ["3", "2.25", "7", "calendar", "5200"]


def test_shifts_left_blank_are_those_of_the_hire(agree, desk):
    line = hired(at(3, 8), agreement__shifts_a_day=2)
    agreed = agree(line)
    assert agreed.body["shifts"] == "2"
    assert money.make_docket(line=line, by=desk, at=at(3, 8)).net == Decimal("2175.00")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"rule": "fixed", "fixed_length": "10"}, "There is no rate for 10 days to be fixed."),
        ({"rule": "fixed", "fixed_by": "month"}, "has the price of a month that runs from a day"),
        (
            FOUR_WEEKS | {"rule": "fixed", "fixed_by": "month"},
            "has the price of a month that runs from a day",
        ),
        (
            MONTH | {"rule": "fixed", "fixed_by": "month", "fixed_length": "7"},
            "by the calendar month or by a length of days",
        ),
        ({"fixed_by": "year"}, "Select a valid choice"),
        (FOUR_WEEKS | {"rates": "1: 290\n28: 5000"}, "There are two prices for 28 days."),
        ({"shifts_two": "0.5"}, "greater than or equal to 1"),
        ({"shifts": "4"}, "Select a valid choice"),
    ],
)
def test_terms_that_make_no_sense_are_refused_and_given_back(client, desk, typed, sentence):
    client.force_login(desk)
    line = hired(at(3, 8))
    typed = FORM | {"rule": "best rate", "tax_pct": "12.5"} | typed
    answer = client.post(reverse("hire:terms_agree", args=[line.pk]), typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert 'value="12.5"' in text_of(answer)


def test_a_card_has_its_month_and_what_a_caller_is_told_counts_it(client, desk):
    client.force_login(desk)
    typed = FORM | MONTH | {"name": "Any cart", "cart": "", "litres_from": "", "starts_on": "2026-01-01"}
    assert client.post(reverse("hire:rate_set"), typed).status_code == 302
    body = RateCard.objects.get().body
    # 2 March to 10 April: a month, and 9 days as a week and 2 days.
    assert estimate(40, body, start=date(2026, 3, 2)) == Decimal("7230.00")
    listed = reverse("hire:rate_list")
    assert "a calendar month: 5,200.00" in text_of(client.get(listed))
    assert "calendar month,5200" in client.get(f"{listed}?as=csv").content.decode("utf-8-sig")
    # Without a day to count a month from there is none.
    assert estimate(40, body) == Decimal("8700.00")


CARRIED = {"delivery_price": "180", "collection_price": "160"}
BY_KM = {"delivery_price": "4.20", "collection_price": "3.90", "carried_by": "km", "carried_km": "42.5"}


def beside_the_hire(line, agreed, through=None):
    found = charges_to(line, agreed, through=through)
    return {one.key: (one.amount, one.working) for one in found.lines if one.key != "hire"}


@pytest.mark.parametrize(
    ("typed", "there", "back", "words"),
    [
        (CARRIED, ("180.00", "1 trip × 180.00"), ("160.00", "1 trip × 160.00"), "180.00"),
        (BY_KM, ("178.50", "42.5 km × 4.20"), ("165.75", "42.5 km × 3.90"), "4.20 a km of the way, 42.5 km"),
    ],
)
def test_delivery_is_charged_from_the_handover_and_collection_once_it_is_back(
    agree, typed, there, back, words
):
    line = hired(at(3, 8))
    agreed = agree(line, **typed)
    out = beside_the_hire(line, agreed)
    assert out == {"delivery": (Decimal(there[0]), there[1])}
    first = money.make_docket(line=line, by=agreed.agreed_by, at=at(3, 8))
    assert ["Delivery", words] in first.body["terms"]
    line.back_at = at(3, 9)
    line.save()
    second = money.make_docket(line=line, by=agreed.agreed_by, at=at(3, 9))
    assert [(one["key"], one["amount"], one["working"]) for one in second.body["lines"]] == [
        ("collection", *back)
    ]


def test_a_swap_is_delivered_once_and_collected_once(agree, client, desk):
    line = hired(at(3, 5), until=at(3, 8), cart__fleet_number="WC-61")
    other = LineFactory(
        agreement=line.agreement,
        starts_at=at(3, 5),
        ends_at=at(3, 8),
        out_at=at(3, 5, 18),
        cart__fleet_number="WC-62",
    )
    line.off_hires.update(replaced_by=other, replaced_why="Pump shaft")
    agree(other, **CARRIED)
    line.back_at = at(3, 6)
    line.save()
    agreed = other.agreed_terms.get()
    assert set(beside_the_hire(other, agreed, date(2026, 3, 7))) == {"delivery"}
    OffHireFactory(line=other, called_at=at(3, 8), stops_at=at(3, 8), made_at=at(3, 8))
    other.back_at = at(3, 9)
    other.save()
    assert {key: amount for key, (amount, _) in beside_the_hire(other, agreed).items()} == {
        "delivery": Decimal("180.00"), "collection": Decimal("160.00"),
    }  # fmt: skip
    money.make_docket(line=other, by=desk, at=at(3, 9))
    parts = docket_parts([line, other])
    earned = {
        one.cart.fleet_number: {part.what: part.share for part in parts[one.pk]} for one in (line, other)
    }
    assert [earned["WC-61"][what] for what in ("Delivery", "Collection")] == [180, 0]
    assert [earned["WC-62"][what] for what in ("Delivery", "Collection")] == [0, 160]


def test_a_price_by_the_km_wants_the_km_once_for_the_hire(client, desk):
    client.force_login(desk)
    line = hired(at(3, 8))
    typed = FORM | {"rule": "best rate"} | BY_KM | {"carried_km": ""}
    answer = client.post(reverse("hire:terms_agree", args=[line.pk]), typed)
    assert answer.status_code == 422
    assert "give the km of the way" in text_of(answer)
    card = typed | {"name": "Any cart", "cart": "", "litres_from": "", "starts_on": "2026-01-01"}
    assert client.post(reverse("hire:rate_set"), card).status_code == 302
