"""The figures' page: the period from the address, the order, the workings, the words for nothing and for few, the file."""

import csv
import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory, MeterReadingFactory
from tests.factories.hire import LineFactory
from tests.pages import queries_of, text_of, today

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
PAGE = reverse("hire:figures")


@pytest.fixture
def client(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    return client


@pytest.fixture
def now():
    return timezone.now()


def read(cart, now, *, hours, days=20):
    MeterReadingFactory(cart=cart, read_at=now - days * DAY, value=1000)
    MeterReadingFactory(cart=cart, read_at=now - HOUR, value=1000 + hours)


def names(answer):
    return [row.name for row, _ in answer.context["rows"]]


def test_no_defects_is_told_with_its_hours_and_few_is_told_too(client, now):
    sound, once = CartFactory(fleet_number="A1"), CartFactory(fleet_number="A2")
    read(sound, now, hours=412)
    read(once, now, hours=90)
    DefectFactory(cart=once, grade="watch", told_at=now - 3 * DAY)
    CartFactory(fleet_number="A3")
    page = text_of(client.get(PAGE, {"period": "3"}))
    assert "no defects in 412.0 h" in page
    assert "of 1: few" in page
    assert "hours not read" in page
    assert "no repair" in page


@pytest.mark.parametrize(
    ("query", "words"),
    [
        pytest.param({"period": "own", "since": "2030-01-01"}, "still to come", id="a day to come"),
        pytest.param({"period": "own"}, "Give the first day", id="no first day"),
        pytest.param(
            {"period": "own", "since": "2026-03-02", "until": "2026-03-01"},
            "comes before the first",
            id="backwards",
        ),
        pytest.param({"period": "own", "since": "soon"}, "valid date", id="no day at all"),
        pytest.param({"period": "own", "since": "1066-10-14"}, "from 2000 on", id="long ago"),
        pytest.param({"period": "aeon"}, "aeon", id="a period nobody offers"),
        pytest.param({"of": "5-axle"}, "5-axle", id="a class there is none of"),
    ],
)
def test_an_address_at_fault_says_so_and_keeps_what_was_typed(client, query, words):
    answer = client.get(PAGE, query)
    assert answer.status_code == 422
    assert words in text_of(answer)
    if "2026-03-02" in query.values():
        assert 'value="2026-03-02"' in answer.content.decode()


@pytest.mark.parametrize("period", ["month", "3", "12", "own"])
def test_each_period_ends_now_or_on_its_day(client, period, now):
    CartFactory()
    query = {
        "period": period,
        "since": (today() - 400 * DAY).isoformat(),
        "until": (today() - 395 * DAY).isoformat(),
    }
    asked = client.get(PAGE, query).context["asked"]
    days = (asked.end - asked.start) / DAY
    least, most = {"month": (0, 31), "3": (88, 93), "12": (364, 367), "own": (5.9, 6.1)}[period]
    assert least <= days <= most
    assert asked.end <= timezone.now()


def test_the_order_comes_from_the_address_and_the_undefined_stands_last(client, now):
    for number, hours in (("A1", 50), ("A2", 90), ("A3", 0)):
        read(CartFactory(fleet_number=number), now, hours=hours)
    CartFactory(fleet_number="A0")
    assert names(client.get(PAGE, {"period": "3"})) == ["A0", "A1", "A2", "A3"]
    assert names(client.get(PAGE, {"period": "3", "sort": "-name"})) == ["A3", "A2", "A1", "A0"]
    assert names(client.get(PAGE, {"period": "3", "sort": "-hours"})) == ["A2", "A1", "A3", "A0"]
    answer = client.get(PAGE, {"period": "3", "sort": "hours"})
    assert names(answer) == ["A3", "A1", "A2", "A0"]
    assert 'aria-sort="ascending"' in answer.content.decode()
    assert names(client.get(PAGE, {"sort": "nonsense"})) == ["A0", "A1", "A2", "A3"]


def test_a_class_is_reckoned_together_and_leads_to_its_carts(client, now):
    for number, hours in (("A1", 50), ("A2", 70)):
        read(CartFactory(fleet_number=number), now, hours=hours)
    CartFactory(fleet_number="B1", layout="4x2", tank_capacity_l=9000)
    answer = client.get(PAGE, {"period": "3", "by": "class"})
    assert [(row.name, row.inside) for row, _ in answer.context["rows"]] == [
        ("2-axle, 8,000–12,000 L", "1 cart"),
        ("3-axle, 12,000–16,000 L", "2 carts"),
    ]
    assert answer.context["rows"][1][0].figures.engine_hours == pytest.approx(120)
    assert names(client.get(PAGE, {"of": "3-axle, 12,000–16,000 L"})) == ["A1", "A2"]


def test_a_row_opens_to_the_inputs_of_every_figure(client, now):
    cart = CartFactory(fleet_number="A1")
    read(cart, now, hours=80)
    for days in (2, 3):
        DefectFactory(cart=cart, grade="watch", told_at=now - days * DAY)
    answer = client.get(PAGE, {"period": "3", "open": "A1"})
    labels = [one.label for one in answer.context["workings"]]
    assert labels == [
        "Out on hire", "Hours and kilometres", "Hours between defects", "Told to second look", "On the job to done", "Could work",
    ]  # fmt: skip
    page = text_of(answer)
    assert "<dt>Defects told</dt><dd>2" in page
    assert "VERIFIED-S" in page
    assert client.get(PAGE, {"open": "nobody"}).context["opened"] is None


def test_cost_is_shown_only_once_it_is_recorded(client, now, monkeypatch):
    cart = CartFactory(fleet_number="A1")
    read(cart, now, hours=100)
    assert "Cost an hour" not in text_of(client.get(PAGE, {"period": "3"}))
    costs = {cart.pk: Decimal("1234.565")}
    monkeypatch.setattr("hire.views.figures.costs_of", lambda **_: costs)
    page = text_of(client.get(PAGE, {"period": "3", "open": "A1"}))
    assert "Cost an hour" in page
    assert "1,234.57" in page
    assert "12.35" in page


def test_the_file_holds_the_same_rows_in_the_same_order_on_every_page(client, now):
    for number in range(60):
        CartFactory(fleet_number=f"A{number:02}")
    out = CartFactory(fleet_number="B1")
    LineFactory(cart=out, starts_at=now - 5 * DAY, out_at=now - 5 * DAY)
    answer = client.get(PAGE, {"period": "3", "sort": "-out", "as": "csv", "page": "2"})
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))
    assert len(rows) == 61
    assert rows[0]["What"] == "B1"
    assert float(rows[0]["Hire days"]) == pytest.approx(5, abs=0.01)
    assert rows[1]["Hours between defects"] == ""


def test_no_carts_says_what_to_do(client):
    assert "No cart was in the fleet then." in text_of(client.get(PAGE))


def test_the_page_costs_the_same_for_three_carts_and_for_thirty(client, now):
    def add(number):
        for _ in range(number):
            cart = CartFactory()
            read(cart, now, hours=10)
            DefectFactory(cart=cart, grade="do_not_use", told_at=now - DAY)

    add(3)
    few = queries_of(client, f"{PAGE}?period=3")
    add(27)
    assert queries_of(client, f"{PAGE}?period=3") == few
