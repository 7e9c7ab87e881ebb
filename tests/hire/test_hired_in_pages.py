"""The pages of carts hired in; and that no page or paper of a customer has a word of them."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.models.owners import HireIn, Owner
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, walked_line
from tests.factories.money import AgreedTermsFactory, DocketFactory
from tests.factories.owners import HireInFactory, OwnerFactory, OwnerPaperFactory
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(now):
    return LineFactory(
        cart__fleet_number="HX-1", starts_at=now - 2 * DAY, ends_at=now + 5 * DAY, out_at=now - 2 * DAY
    )


@pytest.fixture
def hire_in(line, now):
    return HireInFactory(
        cart=line.cart, owner__name="Tarcoola Plant", starts_at=now - 2 * DAY, ends_at=now + DAY, day_price=Decimal("123.45"),
        week_price=None,
    )  # fmt: skip


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def test_an_owner_a_paper_and_a_cart_are_put_on_record(client, now):
    cart = CartFactory(fleet_number="HX-9")
    client.post(
        reverse("hire:owner_add"),
        {"name": "Tarcoola Plant", "contact_name": "Bel Ostrow", "phone": "08 5550 0444"},
    )
    owner = Owner.objects.get()
    page = client.post(
        reverse("hire:owner_paper_add", args=[owner.pk]),
        {"kind": "insurance", "expires_on": "2020-06-30"},
        follow=True,
    )
    assert "Lapsed: its carts stay in the yard." in text_of(page)
    typed = {
        "owner": owner.pk, "cart": cart.pk, "starts_at": typed_moment(now - DAY), "ends_at": typed_moment(now + 9 * DAY),
        "day_price": "310.00", "cut_off": "12:00",
    }  # fmt: skip
    page = text_of(client.post(reverse("hire:hire_in_add"), typed, follow=True))
    assert "HX-9 is hired in from Tarcoola Plant." in page
    assert "620.00</b> before tax" in page
    assert "Before 12 noon the charge stops with the call" in page


def test_refused_it_comes_back_with_what_was_typed(client, hire_in, now):
    typed = {
        "owner": hire_in.owner_id, "cart": hire_in.cart_id, "starts_at": typed_moment(now), "ends_at": typed_moment(now + DAY),
        "day_price": "310.00", "cut_off": "12:00",
    }  # fmt: skip
    answer = client.post(reverse("hire:hire_in_add"), typed)
    assert answer.status_code == 422
    assert "Change its period, or call it off first" in str(answer.context["form"].errors["cart"])
    assert "310.00" in answer.content.decode()


def test_called_off_given_back_and_the_file_of_it(client, hire_in, line, now):
    page = reverse("hire:owner_call", args=[hire_in.pk])
    said = text_of(
        client.post(
            page, {"called_at": typed_moment(now - DAY), "called_to_words": "Bel, OH 12"}, follow=True
        )
    )
    assert "with Bel, OH 12" in said
    refused = client.post(
        reverse("hire:hire_in_return", args=[hire_in.pk]), {"returned_at": typed_moment(now)}
    )
    assert "is out on" in str(refused.context["form"].errors)
    rows = saved(client, reverse("hire:hire_in_detail", args=[hire_in.pk]))
    assert [row["Customer"] for row in rows] == [line.agreement.customer.name, "On no hire", "In all"]


def test_the_charges_page_has_the_cost_and_the_margin(client, hire_in, line):
    DocketFactory(line=line, net=Decimal(900), tax=Decimal(90), total=Decimal(990))
    page = text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert "What it costs us" in page
    # Three days begun, 123.45 each, of 900 on a docket.
    assert "370.35" in page
    assert "529.65" in page
    own = LineFactory(starts_at=line.promised.lower, out_at=line.handed_over_at)
    assert "What it costs us" not in text_of(client.get(reverse("hire:charges", args=[own.pk])))


def test_the_carts_page_says_whose_it_is_and_no_price(client, people, hire_in):
    client.force_login(people["yard_hand"])
    page = client.get(reverse("fleet:cart_detail", args=[hire_in.cart_id])).content.decode()
    assert "Tarcoola Plant" in page
    assert "123.45" not in page


def test_no_customer_reads_a_word_of_the_owner(client, hire_in, line, now):
    """Neither on the link's page, nor on the docket and its paper."""
    AgreedTermsFactory(line=line)
    token = "token-of-a-hired-in-cart-000000001"
    CustomerLinkFactory(line=line, token=token)
    assert "Tarcoola" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    client.post(reverse("hire:docket_make", args=[line.pk]))
    docket = line.dockets.get()
    client.logout()
    seen = client.get(reverse("hire:customer_page", args=[token])).content.decode()
    from hire.docket_files import docket_html  # noqa: PLC0415 - beside its one use

    for page in (seen, docket_html(docket), str(docket.body)):
        for word in ("Tarcoola", "123.45", "owner", "hired in", "Hired in"):
            assert word not in page


def test_nor_that_the_owners_period_ends_before_the_hire(client, hand, now):
    line = walked_line(hand=hand, at=now, cart=CartFactory(tyres=True))
    OwnerPaperFactory(owner=HireInFactory(cart=line.cart, starts_at=now - DAY, ends_at=now + DAY).owner)
    token = "token-of-a-hired-in-cart-000000002"
    CustomerLinkFactory(line=line, token=token)
    assert "then its owner’s period ends" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    client.logout()
    assert "owner" not in client.get(reverse("hire:customer_page", args=[token])).content.decode()


def test_nor_that_it_stays_because_the_owners_period_is_over(client, hand, now):
    line = walked_line(hand=hand, at=now, cart=CartFactory(tyres=True))
    OwnerPaperFactory(owner=HireInFactory(cart=line.cart, starts_at=now - 9 * DAY, ends_at=now - DAY).owner)
    token = "token-of-a-hired-in-cart-000000004"
    CustomerLinkFactory(line=line, token=token)
    assert "agree more with" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    client.logout()
    page = client.get(reverse("hire:customer_page", args=[token])).content.decode()
    assert not [word for word in ("owner", "hired in from", "Hired in from") if word in page]


def test_nor_with_whom_it_is_once_it_is_given_back(client, desk, now):
    line = LineFactory(starts_at=now + DAY)
    HireInFactory(
        cart=line.cart, starts_at=now - 9 * DAY, called_at=now - DAY, stops_at=now - DAY, called_to_words="Bel",
        called_by=desk, returned_at=now - timedelta(hours=1),
    )  # fmt: skip
    token = "token-of-a-hired-in-cart-000000003"
    CustomerLinkFactory(line=line, token=token)
    client.force_login(desk)
    assert "Tarcoola" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    client.logout()
    found = client.get(reverse("hire:customer_page", args=[token])).context["answer"].blockers
    assert "the yard sends another" in " ".join(one.sentence for one in found)
    assert "Tarcoola" not in " ".join(one.sentence for one in found)


def test_the_lists_cost_the_same_for_three_and_thirty(client, desk):
    def add(number):
        for _ in range(number):
            OwnerPaperFactory(owner=HireInFactory(owner=owner).owner)
            OwnerFactory()

    owner = OwnerFactory()
    pages = [reverse("hire:hire_in_list"), reverse("hire:owner_detail", args=[owner.pk])]
    add(3)
    few = [queries_of(client, page) for page in pages]
    add(27)
    assert [queries_of(client, page) for page in pages] == few


def test_one_cart_and_its_hires_cost_the_same_for_three_and_thirty(client, now):
    hire_in = HireInFactory(starts_at=now - 90 * DAY, ends_at=now + DAY)

    def add(first, last):
        for n in range(first, last):
            starts = now - (80 - 2 * n) * DAY
            LineFactory(
                cart=hire_in.cart,
                starts_at=starts,
                ends_at=starts + DAY,
                out_at=starts,
                came_back_at=starts + DAY,
            )

    page = reverse("hire:hire_in_detail", args=[hire_in.pk])
    add(0, 3)
    few = queries_of(client, page)
    add(3, 30)
    assert queries_of(client, page) == few


def test_an_empty_list_says_what_to_do(client):
    assert not HireIn.objects.exists()
    assert "Add the owner, add the cart under Carts, then hire it in." in text_of(
        client.get(reverse("hire:hire_in_list"))
    )
