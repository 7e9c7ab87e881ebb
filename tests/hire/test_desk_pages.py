"""The pages of the hire desk: local time read, faults told, what was typed kept, lists that cost the same."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from fleet.models.carts import Cart
from hire.models.agreements import Line
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import AgreementFactory, CustomerFactory, LineFactory
from tests.pages import queries_of

DAY = timedelta(days=1)
TYPED = {
    "place_of_work": "Saltbush Road", "order_number": "PO 77", "leaves_by": "road", "works_on": "site", "pre_start_book": "ours",
    "shift": "day", "water": "any",
    "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00",
}  # fmt: skip


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def post(client, **changed):
    typed = TYPED | {"customer": CustomerFactory().pk, "cart": CartFactory().pk} | changed
    return client.post(reverse("hire:line_add"), typed)


def test_the_form_reads_the_yards_own_time(client):
    assert post(client).status_code == 302
    promised = Line.objects.get().promised
    assert promised.lower == datetime(2027, 1, 31, 19, 0, tzinfo=UTC)
    page = client.get(reverse("hire:line_move", args=[Line.objects.get().pk])).content.decode()
    assert 'value="2027-02-01T05:30"' in page


@pytest.mark.parametrize(
    "wrong",
    [
        {"ends_at": "2027-01-01T05:30"},
        {"ends_at": "2027-02-01T05:30"},
        {"ends_at": ""},
        {"starts_at": "soon"},
        {"starts_at": "0001-01-01T00:00"},
        {"ends_at": "9999-12-31T23:59"},
        {"cart": "7"},
        {"customer": "\x00"},
        {"leaves_by": "air"},
        {"water": "wine"},
        {"place_of_work": ""},
        {"place_of_work": "x\x00y"},
    ],
)
def test_a_faulty_form_comes_back_with_everything_typed(client, wrong):
    answer = post(client, **wrong)
    assert answer.status_code == 422
    assert 'value="PO 77"' in answer.content.decode()
    assert not Line.objects.exists()


def test_an_overlap_comes_back_at_the_cart(client, at):
    cart = Cart.objects.get(pk=CartFactory().pk)
    assert post(client, cart=cart.pk).status_code == 302
    answer = post(client, cart=cart.pk)
    assert answer.status_code == 422
    assert "is promised to" in str(answer.context["form"].errors["cart"])


def test_the_pages_of_the_desk_cost_the_same_for_three_and_thirty(client, at):
    customer = CustomerFactory()
    agreement = AgreementFactory(customer=customer)

    def add(number):
        for _ in range(number):
            LineFactory(agreement=agreement)
            LineFactory(starts_at=at - 5 * DAY, out_at=at - 5 * DAY)
            LineFactory(starts_at=at - 50 * DAY, out_at=at - 50 * DAY, came_back_at=at - 40 * DAY)

    pages = [reverse(f"hire:{name}") for name in ("line_list", "line_past", "customer_list")]
    pages.append(reverse("hire:customer_detail", args=[customer.pk]))
    add(3)
    few = [queries_of(client, page) for page in pages]
    add(27)
    assert [queries_of(client, page) for page in pages] == few


def test_finding_a_customer_by_half_a_name_or_by_rubbish(client):
    CustomerFactory(name="Merrin Civil")
    page = client.get(reverse("hire:customer_list"), {"q": "merr"}).content.decode()
    assert "Merrin Civil" in page
    assert client.get(reverse("hire:customer_list"), {"q": "\x00", "page": "-3"}).status_code == 200


def test_the_day_sheet_says_of_each_leaving_cart_whether_it_may_go(client, at):
    held, twice = CartFactory(), CartFactory()
    DefectFactory(cart=held, grade="do_not_use", title="Park-brake alarm")
    LineFactory(cart=held, starts_at=at + timedelta(hours=2))
    LineFactory(cart=twice, starts_at=at + 2 * DAY)
    LineFactory(cart=twice, starts_at=at + 40 * DAY)

    page = client.get(reverse("hire:line_list")).content.decode()

    assert page.count("Park-brake alarm") == 1
    assert page.count("once its pre-hire check is signed") == 1
    assert page.count("Another hire of this cart comes first.") == 1
