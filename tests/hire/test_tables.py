"""The desk's and the fleet's tables as files: the same rows as on the page, all of them, and no more queries for more rows."""

from datetime import datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import AgreementFactory, CustomerFactory, LineFactory
from tests.pages import queries_of, saved

DAY = timedelta(days=1)


@pytest.fixture
def client(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    return client


def test_carts_are_saved_as_they_are_narrowed(client):
    for number in range(60):
        CartFactory(fleet_number=f"K{number:03}", where_kind="site" if number < 55 else "yard")
    held = CartFactory(fleet_number="K100", where_kind="site")
    DefectFactory(cart=held, grade="do_not_use", title="Park-brake alarm")
    rows = saved(client, reverse("fleet:cart_list"), where="site", page="2")
    assert [row["Cart"] for row in rows] == [*(f"K{number:03}" for number in range(55)), "K100"]
    assert rows[-1]["Right to go"] == "Held"
    assert "Park-brake alarm" in rows[-1]["Why"]


def test_gear_is_saved_as_fitted_now(client):
    cart = CartFactory(fleet_number="K7", gear=("cannon", "beacon"))
    cart.fitments.filter(kind="beacon").update(removed_on="2026-11-01")
    rows = saved(client, reverse("fleet:gear_list", args=[cart.pk]))
    assert rows == [{"Gear": "Cannon", "Count": "1", "Details": "", "Fitted on": "2026-01-06"}]


def test_customers_are_saved_as_they_were_looked_for_and_no_name_is_a_formula(client):
    CustomerFactory(name="=Merrin Civil", phone="+61 8 5550 2231", is_stopped=True)
    CustomerFactory(name="Ochre Roads")
    rows = saved(client, reverse("hire:customer_list"), q="merrin")
    assert [(row["Customer"], row["Phone"], row["No new hires"]) for row in rows] == [
        ("'=Merrin Civil", "'+61 8 5550 2231", "yes")
    ]


def test_the_day_sheet_is_saved_with_its_parts(client):
    at = timezone.now()
    leaving = LineFactory(starts_at=at - timedelta(minutes=5))
    late = LineFactory(starts_at=at - 9 * DAY, ends_at=at - DAY, out_at=at - 9 * DAY)
    out = LineFactory(starts_at=at - DAY, ends_at=at + 5 * DAY, out_at=at - DAY)
    ahead = LineFactory(starts_at=at + 5 * DAY)
    rows = saved(client, reverse("hire:line_list"))
    assert [(row["Part"], row["Cart"]) for row in rows] == [
        ("Out today", leaving.cart.fleet_number),
        ("Back today, or late", late.cart.fleet_number),
        ("Out on hire", out.cart.fleet_number),
        ("Promised ahead", ahead.cart.fleet_number),
    ]
    assert rows[0]["Right to go"] == "Held"
    assert datetime.fromisoformat(rows[2]["Left"]) == out.handed_over_at.replace(microsecond=0)


def test_past_hires_are_saved_newest_first(client, at):
    agreement = AgreementFactory()
    for days in (10, 30):
        LineFactory(
            agreement=agreement,
            starts_at=at - days * DAY,
            out_at=at - days * DAY,
            came_back_at=at - (days - 5) * DAY,
        )
    rows = saved(client, reverse("hire:line_past"))
    assert [row["Back"][:10] for row in rows] == ["2026-11-26", "2026-11-06"]


def test_a_customers_hires_are_saved_a_row_for_each_cart(client, at):
    agreement = AgreementFactory(place_of_work="Saltbush Road")
    back = LineFactory(
        agreement=agreement, starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - 2 * DAY
    )
    ahead = LineFactory(agreement=agreement, starts_at=at + 9 * DAY)
    cancelled = LineFactory(
        agreement=agreement, starts_at=at + 9 * DAY, cancelled_at=at, cancelled_why="=Rain"
    )
    for _ in range(30):
        LineFactory(agreement=AgreementFactory(customer=agreement.customer))
    LineFactory()
    address = reverse("hire:customer_detail", args=[agreement.customer_id])
    rows = saved(client, address, page="2")
    assert len(rows) == 33
    mine = {row["Cart"]: row for row in rows if row["Agreement"] == agreement.number}
    assert set(mine) == {line.cart.fleet_number for line in (back, ahead, cancelled)}
    assert datetime.fromisoformat(mine[back.cart.fleet_number]["Back"]) == back.back_at
    assert mine[ahead.cart.fleet_number]["Left"] == ""
    assert mine[ahead.cart.fleet_number]["Place of work"] == "Saltbush Road"
    assert mine[cancelled.cart.fleet_number]["Why cancelled"] == "'=Rain"


def test_a_file_costs_the_same_for_three_rows_and_for_thirty(client, at):
    agreement = AgreementFactory()

    def add(number):
        for _ in range(number):
            LineFactory(starts_at=at + 5 * DAY)
            LineFactory(starts_at=at + 5 * DAY, agreement=agreement)
            LineFactory(starts_at=at - 5 * DAY, out_at=at - 5 * DAY)
            LineFactory(starts_at=at - 50 * DAY, out_at=at - 50 * DAY, came_back_at=at - 40 * DAY)

    files = [
        f"{reverse(name)}?as=csv"
        for name in ("fleet:cart_list", "hire:line_list", "hire:line_past", "hire:customer_list")
    ]
    files.append(f"{reverse('hire:customer_detail', args=[agreement.customer_id])}?as=csv")
    add(3)
    few = [queries_of(client, file) for file in files]
    add(27)
    assert [queries_of(client, file) for file in files] == few


@pytest.mark.parametrize("name", ["fleet:cart_list", "hire:line_list", "hire:customer_list"])
def test_each_page_offers_its_file_with_its_filters(client, name):
    CustomerFactory(name="Merrin Civil")
    CartFactory(fleet_number="ME12")
    page = client.get(reverse(name), {"q": "me", "page": "1"}).content.decode()
    assert 'href="?q=me&amp;as=csv"' in page
