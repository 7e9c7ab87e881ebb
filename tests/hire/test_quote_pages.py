"""Quotes at the desk: written of an answer, a pencil or a booking, found again, sent, and promised with nothing typed twice."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.quotes import Quote
from hire.quote_files import make_quote_file
from tests.factories.fleet import CartFactory
from tests.factories.hire import BookingFactory, CustomerFactory, PencilFactory
from tests.factories.money import BODY, RateCardFactory
from tests.factories.quotes import quote_of
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
FIND, ADD, LIST = reverse("hire:enquiry"), reverse("hire:quote_add"), reverse("hire:quote_list")
ASKED = {
    "starts_at": "2027-02-01T06:00", "ends_at": "2027-02-07T16:00", "leaves_by": "road", "works_on": "site", "water": "any",
    "drive_axles": "0", "goes": "dry", "shift": "both", "place_of_work": "Pit 4", "litres": "12000", "gear": "cannon",
}  # fmt: skip


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def address(**more):
    return f"{ADD}?{'&'.join(f'{name}={value}' for name, value in (ASKED | more).items())}"


def typed(**more):
    form = {name: value for name, value in BODY.items() if name != "rates"} | {"rates": "1: 290\n7: 1,450"}
    return form | {
        "form_id": str(uuid4()), "to_name": "Wren Aldous", "phone": "08 5550 0188", "email": "wren@aldous.example",
        "rule": "as agreed",
        "valid_until": f"{(timezone.now() + 9 * DAY):%Y-%m-%d}", "delivery_price": "180", "not_included": "Fuel.",
    } | more  # fmt: skip


def test_an_offer_leads_to_its_quote_and_one_without_a_cart_too(client):
    cart = CartFactory()
    RateCardFactory()
    page = client.get(FIND, ASKED).content.decode()
    for start in (f"{ADD}?cart={cart.pk}&amp;", f"{ADD}?starts_at"):
        link = start + page.split(start)[1].split('"')[0]
        answer = client.get(link.replace("&amp;", "&"))
        assert answer.status_code == 200
        assert "by day and night" in text_of(answer)
    form = client.get(address(cart=cart.pk)).context["form"]
    assert (form["rates"].value(), form["rule"].value()) == ("1: 290.00\n7: 1,450.00\n28: 5,000.00", None)


def test_the_form_knows_the_customer_and_how_long_a_quote_stands(client, settings):
    customer = CustomerFactory()
    form = client.get(address(customer=customer.pk)).context["form"]
    assert (form["to_name"].value(), form["email"].value()) == (customer.contact_name, customer.email)
    assert (form["valid_until"].value() - timezone.localdate()).days in {13, 14, 15}
    assert settings.YARD_QUOTE_DAYS == 14


def test_no_rule_is_refused_with_what_was_typed_kept(client):
    cart = CartFactory()
    answer = client.post(address(cart=cart.pk), typed(rule="", delivery_price="212.50", words="As we spoke"))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == ["rule"]
    assert (form["delivery_price"].value(), form["words"].value()) == ("212.50", "As we spoke")
    assert "Rate rule: Choose it with the customer: nothing is taken for granted." in text_of(answer)
    assert not Quote.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"rule": "fixed", "fixed_by": "month"}, "rates"), ({"valid_until": "2020-01-01"}, "valid_until"),
        ({"send": "on", "email": ""}, "email"),
    ],
)  # fmt: skip
def test_what_makes_no_sense_comes_back_beside_its_field(client, wrong, field):
    answer = client.post(address(cart=CartFactory().pk), typed(**wrong))
    assert answer.status_code == 422
    assert field in answer.context["form"].errors


def test_the_price_is_shown_and_nothing_is_kept(client):
    page = client.post(address(cart=CartFactory().pk), typed(look="1"))
    assert page.status_code == 200
    assert "7 days at the week rate: 7 × 1,450.00 / 7 × 1.5 for 2 shifts a day" in text_of(page)
    assert page.context["found"].net == Decimal(2175 + 180)
    assert not Quote.objects.exists()


def test_it_is_written_read_found_and_saved(client):
    cart, form = CartFactory(fleet_number="WC-9"), typed()
    answer = client.post(address(cart=cart.pk), form)
    quote = Quote.objects.get()
    assert answer["Location"] == reverse("hire:quote_detail", args=[quote.pk])
    assert client.post(address(cart=cart.pk), form)["Location"] == answer["Location"]
    page = text_of(client.get(answer["Location"]))
    for words in (
        quote.number,
        "Wren Aldous",
        "Days in a month:",
        "2,590.50",
        "Collection. Fuel.",
        "Its PDF is being made",
    ):
        assert words in page
    for word, count in ((quote.number, 1), ("wren", 1), ("WC-9", 1), ("pit 4", 1), ("nobody", 0)):
        assert len(client.get(LIST, {"q": word}).context["rows"]) == count
    [row] = saved(client, LIST)
    assert (row["Quote"], row["Rate rule"], row["Total"]) == (quote.number, "as agreed", "2590.50")
    assert [row["What"] for row in saved(client, answer["Location"])] == [
        "Hire, 1 February 2027 to 7 February 2027", "Delivery", "Net", "Tax", "Total",
    ]  # fmt: skip
    assert client.get(reverse("hire:quote_file", args=[quote.pk])).status_code == 404
    make_quote_file(quote.pk, timezone.now())
    file = client.get(reverse("hire:quote_file", args=[quote.pk]))
    assert b"".join(file.streaming_content).startswith(b"%PDF-")


def test_the_list_parts_what_stands_from_what_ran_out_and_what_was_taken(client, desk):
    now = timezone.now()
    standing, out = quote_of(at=now), quote_of(at=now - 9 * DAY, stands_days=3)
    for state, found in (("standing", [standing]), ("out", [out]), ("taken", []), ("all", [standing, out])):
        assert [quote for quote, _ in client.get(LIST, {"state": state}).context["rows"]] == found
    page = text_of(client.get(reverse("hire:quote_detail", args=[out.pk])))
    assert f"Ran out on {out.valid_until:%-d %b %Y}. Its figures stay as they were" in page
    promise = text_of(client.get(f"{reverse('hire:line_add')}?quote={out.pk}"))
    assert f"{out.number} ran out on" in promise


def test_it_is_promised_with_nothing_typed_twice_and_both_pages_say_so(client):
    now, customer = timezone.now(), CustomerFactory()
    starts_at = now.replace(minute=0, second=0, microsecond=0) + 30 * DAY
    quote = quote_of(at=now, starts_at=starts_at, shift="both", customer=customer, rule="as agreed")
    there = f"{reverse('hire:line_add')}?quote={quote.pk}"
    page = client.get(there)
    assert f"As quoted in {quote.number}" in text_of(page)
    form = page.context["form"]
    begun = {name: form[name].value() for name in form.fields if form[name].value() not in (None, "", [])}
    begun |= {
        name: typed_moment(getattr(quote.period, side))
        for name, side in (("starts_at", "lower"), ("ends_at", "upper"))
    }
    assert begun["cart"] == quote.cart_id
    answer = client.post(there, begun | {"pre_start_book": "ours"})
    line = Line.objects.get()
    assert answer["Location"] == reverse("hire:line_detail", args=[line.pk])
    assert (line.agreement.customer, line.agreement.shifts_a_day, line.promised) == (
        customer,
        2,
        quote.period,
    )
    assert (line.agreed_terms.get().rule, line.agreed_terms.get().body) == ("as agreed", quote.terms)
    assert "As quoted: <a href" in client.get(answer["Location"]).content.decode()
    assert f"As quoted, {quote.number}" in text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert f"Became {line.agreement.number}" in text_of(
        client.get(reverse("hire:quote_detail", args=[quote.pk]))
    )


def test_a_promise_that_is_not_as_quoted_comes_back_beside_its_field(client):
    quote = quote_of(at=timezone.now(), starts_at=timezone.now() + 30 * DAY)
    form = {
        "customer": CustomerFactory().pk, "cart": quote.cart_id, "starts_at": "2027-06-01T06:00",
        "ends_at": "2027-06-03T06:00", "place_of_work": "Pit 4",
        "leaves_by": "road", "works_on": "site", "pre_start_book": "ours", "shift": "both", "water": "any",
    }  # fmt: skip
    answer = client.post(f"{reverse('hire:line_add')}?quote={quote.pk}", form)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["shift"]


def test_a_booking_begins_with_it(client):
    quote = quote_of(at=timezone.now(), starts_at=timezone.now() + 30 * DAY, customer=CustomerFactory())
    form = client.get(f"{reverse('hire:booking_add')}?quote={quote.pk}").context["form"]
    assert (form["customer"].value(), form["place_of_work"].value()) == (
        quote.customer_id,
        quote.place_of_work,
    )
    begun = {name: form[name].value() for name in form.fields if form[name].value() not in (None, "", [])}
    begun |= {
        name: typed_moment(getattr(quote.period, side))
        for name, side in (("starts_at", "lower"), ("ends_at", "upper"))
    }
    answer = client.post(
        f"{reverse('hire:booking_add')}?quote={quote.pk}", begun | {"pre_start_book": "ours"}
    )
    assert answer.status_code == 302
    assert Booking.objects.get().quoted.quote == quote
    assert "Became a booking of" in text_of(client.get(reverse("hire:quote_detail", args=[quote.pk])))


def test_a_pencil_and_a_booking_lead_to_their_quotes_and_a_pencil_promised_takes_it_along(client):
    pencil, booking = PencilFactory(), BookingFactory()
    page = client.get(reverse("hire:line_list")).content.decode()
    for which in (f"?pencil={pencil.pk}", f"?booking={booking.pk}"):
        assert f'href="{ADD}{which}"' in page
        assert client.get(f"{ADD}{which}").status_code == 200
    client.post(f"{ADD}?pencil={pencil.pk}", typed())
    quote = Quote.objects.get()
    assert (quote.pencil, quote.cart) == (pencil, pencil.cart)
    assert quote.number in text_of(client.get(reverse("hire:line_list")))
    client.post(f"{ADD}?booking={booking.pk}", typed())
    assert booking.quotes.get().number in text_of(client.get(reverse("hire:line_list")))
    promise = client.get(f"{reverse('hire:line_add')}?pencil={pencil.pk}")
    assert f"As quoted in {quote.number}" in text_of(promise)


def test_it_is_sent_from_its_page(client, settings):
    quote = quote_of(at=timezone.now())
    there = reverse("hire:quote_detail", args=[quote.pk])
    assert client.post(there, {"to_name": "Wren", "email": "no address"}).status_code == 422
    assert client.post(there, {"to_name": "Wren", "email": "wren@aldous.example"}).status_code == 302
    assert "To Wren, wren@aldous.example" in text_of(client.get(there))
    settings.MAIL_IS_SET = False
    refused = client.post(there, {"to_name": "Wren", "email": "wren@aldous.example"})
    assert "This yard has no mail server set" in text_of(refused)
    assert quote.letters.count() == 1


def test_nothing_asked_leads_to_the_question(client):
    for query in ("", "?pencil=x&booking=y", "?starts_at=2027-02-01T06:00"):
        assert client.get(f"{ADD}{query}")["Location"] == FIND


def test_the_list_costs_the_same_for_three_quotes_and_thirty(client):
    now = timezone.now()
    for _ in range(3):
        quote_of(at=now)
    few = queries_of(client, LIST)
    for _ in range(27):
        quote_of(at=now)
    assert queries_of(client, LIST) == few
