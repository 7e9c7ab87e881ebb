"""A caller who wants the cart with an operator: its price, who is free to drive it, and wet all the way to the docket."""

from datetime import time, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.actions.bookings import promise_bookings
from hire.actions.money import NotChargeable, agree_terms
from hire.availability import answer
from hire.charge_facts import charges_to
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.operators import WetHire
from hire.models.pencils import Pencil
from hire.suiting import Enquiry
from hire.terms_text import terms_from
from hire.wet_answer import with_operators
from hire.wet_reading import wants_at
from people.yard import at_local, yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, BookingFactory, CustomerFactory, PencilFactory
from tests.factories.money import BODY, RateCardFactory, YardDayFactory
from tests.factories.wet import (
    DailyDocketFactory,
    OperatorFactory,
    TicketFactory,
    TurnFactory,
    WetHireFactory,
)
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
# A Monday, six in the morning.
START = at_local(yard_day(AT) + 6 * DAY, time(6))
WET = {"wet_hour_price": "165", "wet_overtime_after": "8", "wet_sunday": "2", "wet_holiday": "2.5"}
ASKED = {
    "starts_at": "2027-02-01T06:00", "ends_at": "2027-02-07T16:00", "leaves_by": "road", "works_on": "site",
    "water": "any", "drive_axles": "0", "goes": "wet", "place_of_work": "Pit 4",
}  # fmt: skip
FIND = reverse("hire:enquiry")


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def card(**body):
    return RateCardFactory(body=BODY | WET | body)


def asked(customer=None, place="", **kwargs):
    enquiry = Enquiry(
        **{"start": START, "end": START + 7 * DAY - timedelta(hours=14), "is_wet": True} | kwargs
    )
    return with_operators(answer(enquiry, at=AT), enquiry, customer, place, at=AT)


def test_the_price_is_by_the_hour_with_its_sums():
    CartFactory()
    card()
    [offer] = asked(hours_a_day=Decimal(10)).suiting
    assert (offer.price.total, offer.price.days, offer.price.hours) == (Decimal("14190.00"), 7, 10)
    assert offer.price.sums[0] == "6 days × (8 × 165.00 + 2 × 165.00 × 1.5 overtime) = 10,890.00"


def test_a_public_holiday_is_charged_as_one_or_left_out_where_it_is_free():
    CartFactory()
    YardDayFactory(on=yard_day(START) + DAY)
    one = card()
    assert asked().suiting[0].price.total == Decimal("10560.00") + Decimal("1980.00")
    one.body |= {"holidays": "free"}
    one.save()
    assert asked().suiting[0].price.total == Decimal("10560.00") - Decimal("1320.00")


def test_a_week_of_five_days_and_a_hire_of_none_of_them():
    CartFactory()
    card(days_in_week="5")
    assert asked().suiting[0].price.total == 5 * Decimal("1320.00")
    sunday = START + 6 * DAY
    assert asked(start=sunday, end=sunday + timedelta(hours=8)).suiting[0].price.total == Decimal("2640.00")


def test_a_card_without_a_rate_of_wet_hire_gives_no_price_and_a_dry_caller_the_days():
    CartFactory()
    one = RateCardFactory()
    assert asked().suiting[0].price is None
    one.body |= WET
    one.save()
    [dry] = answer(Enquiry(START, START + 6 * DAY), at=AT).suiting
    assert (dry.price.total, dry.operators) == (Decimal("1450.00"), None)
    assert dry.price.sums == ("7 days as 1 week: 1 × 1,450.00",)


def test_a_dry_caller_who_works_day_and_night_pays_by_the_shifts_of_the_card():
    CartFactory()
    one = RateCardFactory()
    [dry] = answer(Enquiry(START, START + 6 * DAY, shift="both"), at=AT).suiting
    assert (dry.price.total, dry.price.words) == (Decimal("2175.00"), "7 days of 2 shifts")
    one.body |= {"shifts_two": "1.75"}
    one.save()
    [dry] = answer(Enquiry(START, START + 6 * DAY, shift="both"), at=AT).suiting
    assert dry.price.sums == ("7 days as 1 week: 1 × 1,450.00 × 1.75 for 2 shifts a day",)
    [night] = answer(Enquiry(START, START + 6 * DAY, shift="night"), at=AT).suiting
    assert night.price.total == Decimal("1450.00")


def test_an_operator_free_with_what_is_asked_is_named():
    CartFactory()
    TicketFactory(operator__name="Kit Moran")
    [offer] = asked().suiting
    assert offer.operators.is_free
    assert offer.operators.words.startswith(
        "Kit Moran, Moran Plant Operators: free then, with the licence of class "
    )


def test_many_are_counted():
    CartFactory()
    for _ in range(5):
        TicketFactory()
    assert " and 2 more: free then" in asked().suiting[0].operators.words


def test_nobody_in_the_book_is_said():
    CartFactory()
    [offer] = asked().suiting
    assert (offer.operators.words, offer.operators.is_free) == ("Nobody is in the book of operators.", False)


def test_why_nobody_can_go_is_said_of_each():
    customer = CustomerFactory(name="Merrin Civil")
    CartFactory(fleet_number="A", gross_limit_kg=24_000)
    OperatorFactory(name="Ann")
    TicketFactory(operator__name="Bo", licence_class="LR")
    cy = TicketFactory(operator__name="Cy").operator
    TicketFactory(operator=cy, kind="induction", customer=customer, ends_on=yard_day(START) + 2 * DAY)
    [offer] = asked(customer, "Pit 4").suiting
    assert not offer.operators.is_free
    assert offer.operators.words.endswith("or above, induction for Merrin Civil, Pit 4.")
    ann, bo, cys = offer.operators.reasons
    assert "Ann has no licence of class" in ann
    assert "the one on record is LR" in bo
    assert (
        f"Cy’s induction for Merrin Civil, Pit 4 lapses after {yard_day(START) + 2 * DAY:%-d %b %Y}." in cys
    )
    TicketFactory(operator=cy, kind="induction", customer=customer, site="pit 4")
    assert asked(customer, "Pit 4").suiting[0].operators.is_free
    assert not asked(customer, "Pit 5").suiting[0].operators.is_free
    # Nobody's induction is looked up where nobody says for whom.
    assert asked().suiting[0].operators.is_free


@pytest.mark.parametrize(
    ("starts", "ends", "is_free"),
    [
        (-3 * DAY, timedelta(0), True),
        (-3 * DAY, timedelta(minutes=1), False),
        (6 * DAY + timedelta(hours=10), 9 * DAY, True),
    ],
)
def test_one_who_is_with_another_cart_then_is_not_free(starts, ends, is_free):
    CartFactory(fleet_number="A")
    turn = TurnFactory(starts_at=START + starts, ends_at=START + ends)
    found = next(one for one in (*asked().suiting, *asked().taken) if one.cart.fleet_number == "A")
    assert found.operators.is_free == is_free
    if not is_free:
        assert (
            f"With {turn.line.cart.fleet_number} on {turn.line.agreement.number} until"
            in found.operators.reasons[0]
        )


def test_each_cart_asks_for_its_own_licence():
    CartFactory(fleet_number="LIGHT", gross_limit_kg=7_000)
    CartFactory(fleet_number="HEAVY", gross_limit_kg=24_000)
    TicketFactory(licence_class="LR")
    found = {one.cart.fleet_number: one.operators.is_free for one in asked().suiting}
    assert found == {"LIGHT": True, "HEAVY": False}


def test_what_a_place_last_asked_of_its_operator_is_asked_again():
    wet = WetHireFactory(wants=["medical"], line__agreement__place_of_work="Pit 4")
    customer = wet.line.agreement.customer
    assert wants_at(customer, " pit 4 ") == ("medical",)
    WetHireFactory(
        wants=[], line__agreement__place_of_work="Pit 4", line__agreement__customer=customer, set_at=AT
    )
    assert wants_at(customer, "Pit 4") == ()
    assert wants_at(customer, "Pit 5") == wants_at(CustomerFactory(), "Pit 4") == ("induction",)


def test_the_page_says_price_working_and_operator_and_so_does_its_file(client):
    cart = CartFactory(fleet_number="WC-9")
    card()
    TicketFactory(operator__name="Kit Moran")
    page = client.get(FIND, ASKED)
    words = text_of(page)
    assert "<b>10,560.00</b>" in words
    assert "7 days of 8 h, wet, before tax" in words
    assert "6 days × 8 × 165.00 = 7,920.00" in words
    assert "<b>Operator:</b> Kit Moran, Moran Plant Operators: free then" in words
    assert "No customer is named" in words
    assert f"cart={cart.pk}&amp;" in words and "goes=wet" in words
    [row] = saved(client, FIND, **ASKED)
    assert row["How it comes about"].startswith("6 days × 8 × 165.00 = 7,920.00; 1 day")
    assert row["Operators"].startswith("Kit Moran")
    assert "free then" not in text_of(client.get(FIND, ASKED | {"goes": "dry"}))


@pytest.mark.parametrize("wrong", [{"goes": "damp"}, {"hours_a_day": "25"}, {"hours_a_day": "-1"}])
def test_a_faulty_question_comes_back(client, wrong):
    assert client.get(FIND, ASKED | wrong).status_code == 422


def test_the_page_costs_the_same_for_three_carts_and_operators_and_thirty(client):
    customer = CustomerFactory()
    card()

    def add(count):
        for _ in range(count):
            RateCardFactory(cart=CartFactory(), body=BODY | WET)
            TurnFactory(line=WetHireFactory().line)

    address = (
        f"{FIND}?{'&'.join(f'{name}={value}' for name, value in (ASKED | {'customer': customer.pk}).items())}"
    )
    add(3)
    first = queries_of(client, address)
    add(27)
    assert queries_of(client, address) == first


# Nothing is typed twice.


def test_a_pencil_keeps_it_and_its_hire_is_wet(client):
    cart = CartFactory(fleet_number="WC-9")
    address = f"{reverse('hire:pencil_add', args=[cart.pk])}?goes=wet"
    assert client.get(address).context["form"]["goes"].value() == "wet"
    typed = {
        "caller_words": "Ada Kell", "phone": "08 5550 0171", "goes": "wet", "starts_at": "2027-02-01T06:00",
        "ends_at": "2027-02-07T16:00", "expires_at": (timezone.now() + DAY).strftime("%Y-%m-%dT%H:%M"),
    }  # fmt: skip
    assert client.post(address, typed).status_code == 302
    pencil = Pencil.objects.get()
    assert pencil.is_wet
    page = client.get(reverse("hire:line_list")).content.decode()
    [link] = [part.split('"')[0] for part in page.split('href="') if f"?pencil={pencil.pk}&amp;cart" in part]
    assert client.get(link.replace("&amp;", "&")).context["form"]["goes"].value() == "wet"
    assert saved(client, reverse("hire:line_list"))[0]["Why"].endswith("Wet hire")


def test_a_dry_pencil_says_nothing_of_an_operator(client):
    PencilFactory()
    page = client.get(reverse("hire:line_list"))
    assert "Wet hire" not in text_of(page)
    assert "goes=wet" not in page.content.decode()


def test_a_cart_promised_at_once_is_wet(client):
    customer, cart = CustomerFactory(), CartFactory()
    link = (
        client.get(FIND, ASKED | {"customer": customer.pk}).content.decode().split(f"?cart={cart.pk}&amp;")[1]
    )
    form = client.get(f"{reverse('hire:line_add')}?{link.split(chr(34))[0].replace('&amp;', '&')}").context[
        "form"
    ]
    assert (form["goes"].value(), form["place_of_work"].value()) == ("wet", "Pit 4")


def test_a_booking_keeps_it_to_the_docket(client, desk):
    asked_for = client.get(f"{reverse('hire:booking_add')}?goes=wet").context["form"]
    assert asked_for["goes"].value() == "wet"
    customer = CustomerFactory()
    WetHireFactory(
        wants=["medical"], line__agreement__customer=customer, line__agreement__place_of_work="Pit 4"
    )
    typed = ASKED | {"customer": customer.pk, "pre_start_book": "ours", "shift": "day"}
    assert client.post(reverse("hire:booking_add"), typed).status_code == 302
    booking = Booking.objects.get()
    assert booking.is_wet
    assert "Wet hire." in text_of(client.get(reverse("hire:booking_list")))
    cart = CartFactory()
    RateCardFactory(body=BODY | WET)
    [line] = promise_bookings(chosen={booking: cart}, by=desk, at=timezone.now())
    assert line.wet.wants == ["medical"]
    assert (
        client.get(reverse("hire:terms_agree", args=[line.pk])).context["form"]["wet_hour_price"].value()
        == "165"
    )
    typed = BODY | WET | {"rates": terms_from(BODY, rule="best rate").rates}
    with pytest.raises(NotChargeable, match="goes with an operator"):
        agree_terms(
            line=line, rule="best rate", typed=typed | {"wet_hour_price": ""}, by=desk, at=timezone.now()
        )
    agreed = agree_terms(line=line, rule="best rate", typed=typed, by=desk, at=timezone.now())
    line.handed_over_at = line.promised.lower
    line.save()
    turn = TurnFactory(line=line)
    DailyDocketFactory(turn=turn, on=yard_day(line.promised.lower))
    found = charges_to(line, agreed, through=yard_day(line.promised.lower))
    assert found.net == 8 * Decimal(165) + Decimal("247.50")


def test_a_dry_booking_makes_a_dry_hire(desk):
    promise_bookings(chosen={BookingFactory(): CartFactory()}, by=desk, at=timezone.now())
    assert Line.objects.count() == 1
    assert not WetHire.objects.exists()
