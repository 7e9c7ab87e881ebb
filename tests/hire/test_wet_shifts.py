"""Night work asked for by a caller: its price, who is free for each shift, and by night all the way to the gate and the docket."""

from datetime import time, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions.bookings import promise_bookings
from hire.availability import answer
from hire.models.agreements import Agreement, Line
from hire.models.bookings import Booking
from hire.models.pencils import Pencil
from hire.owed_facts import hours_of
from hire.shifts import shifts_on
from hire.suiting import Enquiry
from hire.wet_answer import with_operators
from hire.wet_reading import operator_words, wets_of
from people.yard import at_local, yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, AgreementFactory, BookingFactory, CustomerFactory, PencilFactory
from tests.factories.money import BODY, RateCardFactory
from tests.factories.wet import OperatorFactory, TicketFactory, TurnFactory, WetHireFactory, wet_out
from tests.hire.test_wet_enquiry import ASKED, FIND
from tests.hire.test_wet_findings import judged, operator_codes
from tests.pages import saved, text_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
START = at_local(yard_day(AT) + 6 * DAY, time(6))
NIGHTS = {
    "wet_hour_price": "165", "wet_overtime_after": "8", "wet_sunday": "2", "wet_holiday": "2.5", "wet_night": "1.25",
    "wet_travel_price": "95",
}  # fmt: skip
WORK = {
    "place_of_work": "Pit 4", "leaves_by": "road", "works_on": "site", "pre_start_book": "ours", "water": "any", "goes": "wet",
    "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00", "order_number": "", "drive_axles": "0",
}  # fmt: skip


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def asked(shift, **kwargs):
    enquiry = Enquiry(START, START + 5 * DAY - timedelta(hours=14), is_wet=True, shift=shift, **kwargs)
    return with_operators(answer(enquiry, at=AT), enquiry, None, "", at=AT)


# What it costs.


def test_nights_and_travel_are_priced_by_the_card():
    """Monday to Friday, back on Friday at four: four nights begin in it."""
    CartFactory()
    RateCardFactory(body=BODY | NIGHTS)
    [night] = asked("night", travel_hours=Decimal("1.5")).suiting
    assert night.price.total == 4 * (Decimal("1650.00") + Decimal("142.50"))
    assert night.price.words == "4 nights of 8 h and 1.5 h travel, wet"
    [both] = asked("both").suiting
    assert both.price.total == 5 * Decimal("1320.00") + 4 * Decimal("1650.00")
    assert both.price.words == "5 days and 4 nights of 8 h, wet"


def test_the_page_says_it_and_keeps_the_question_in_its_address(client):
    cart = CartFactory()
    RateCardFactory(body=BODY | NIGHTS)
    question = ASKED | {"shift": "night", "travel_hours": "1", "hours_a_day": "9"}
    words = text_of(client.get(FIND, question))
    # To Sunday at four in the afternoon: six nights, none of them a Sunday's.
    assert "<b>11,955.00</b>" in words
    assert "6 nights of 9 h and 1 h travel, wet, before tax" in words
    assert (
        "6 nights × (8 × 165.00 × 1.25 night + 1 × 165.00 × 1.5 overtime + 1 × 95.00 travel) = 11,955.00"
        in words
    )
    assert "travel comes beside it" not in words
    assert 'value="night" selected' in words
    link = words.split(f"?cart={cart.pk}&amp;")[1].split('"')[0]
    assert "shift=night" in link
    [row] = saved(client, FIND, **question)
    assert row["How it comes about"].startswith("6 nights × (8 × 165.00 × 1.25 night")
    assert "travel comes beside it" in text_of(client.get(FIND, ASKED))


def test_a_dry_caller_takes_the_shift_along_and_nothing_of_travel(client):
    CartFactory()
    RateCardFactory(body=BODY | NIGHTS)
    question = ASKED | {"goes": "dry", "shift": "night", "travel_hours": "1"}
    page = client.get(FIND, question)
    assert "before tax" in text_of(page)
    assert "night of" not in text_of(page)
    parts = page.content.decode().split('href="')[1:]
    links = [
        part.split('"')[0]
        for part in parts
        if part.startswith("/hire/") and "starts_at" in part.split('"')[0]
    ]
    ways = [link for link in links if "/plan/" not in link]
    assert len(ways) == 5
    assert all("shift=night" in link for link in ways)
    assert not any("travel_hours" in link for link in ways)


@pytest.mark.parametrize("wrong", [{"shift": "evening"}, {"travel_hours": "25"}, {"travel_hours": "-1"}])
def test_a_faulty_question_comes_back(client, wrong):
    assert client.get(FIND, ASKED | wrong).status_code == 422


@pytest.mark.parametrize(
    "wrong", [{"shift": "evening"}, {"travel_hours": Decimal(-1)}, {"hours_a_day": Decimal(-1)}]
)
def test_an_enquiry_of_no_shift_or_of_hours_below_zero_is_refused(wrong):
    with pytest.raises(ValueError, match=r"not evening|below zero"):
        Enquiry(START, START + DAY, is_wet=True, **wrong)


# Who is free.


def test_a_night_wants_one_operator_and_day_and_night_two():
    CartFactory()
    TicketFactory(operator__name="Ann")
    [night] = asked("night").suiting
    assert night.operators.is_free
    assert night.operators.words.startswith(
        "Ann, Moran Plant Operators: free then for the night shift, with the"
    )
    [both] = asked("both").suiting
    assert not both.operators.is_free
    assert both.operators.words.startswith("Ann, Moran Plant Operators alone is free then with the licence")
    assert both.operators.words.endswith("and each shift wants its own.")
    TicketFactory(operator__name="Bo")
    [both] = asked("both").suiting
    assert both.operators.is_free
    assert (
        "Ann, Moran Plant Operators; Bo, Moran Plant Operators: free then for both shifts"
        in both.operators.words
    )


def test_one_who_works_by_day_elsewhere_is_not_free_by_night():
    cart = CartFactory()
    TurnFactory(starts_at=START, ends_at=START + DAY, shift=1)
    found = asked("night")
    [offer] = [one for one in (*found.suiting, *found.taken) if one.cart == cart]
    assert not offer.operators.is_free
    OperatorFactory(name="Cy")
    TicketFactory(operator__name="Di")
    [offer] = [one for one in asked("both").suiting if one.cart == cart]
    assert (len(offer.operators.reasons), offer.operators.is_free) == (2, False)
    assert "Di" not in " ".join(offer.operators.reasons)


# By night to the docket.


@pytest.mark.parametrize(
    ("shift", "kept", "words"),
    [
        ("day", (1, False), ""),
        ("night", (1, True), "night"),
        ("both", (2, False), "day and night"),
        ("", (1, False), ""),
    ],
)
def test_a_hire_keeps_how_it_is_worked(client, shift, kept, words):
    typed = WORK | {"customer": CustomerFactory().pk, "cart": CartFactory().pk, "shift": shift}
    assert client.post(reverse("hire:line_add"), typed).status_code == 302
    about = Agreement.objects.get()
    assert (about.shifts_a_day, about.is_night) == kept
    assert f'<span class="facts-note">{(words or "day").capitalize()}. Works ' in text_of(
        client.get(reverse("hire:line_detail", args=[Line.objects.get().pk]))
    )


def test_a_pencil_keeps_it_and_so_does_what_it_becomes(client):
    cart = CartFactory()
    address = f"{reverse('hire:pencil_add', args=[cart.pk])}?goes=wet&shift=night"
    assert client.get(address).context["form"]["shift"].value() == "night"
    typed = {
        "caller_words": "Ada Kell", "phone": "08 5550 0171", "goes": "wet", "shift": "night", "starts_at": "2027-02-01T06:00",
        "ends_at": "2027-02-07T16:00", "expires_at": (timezone.now() + DAY).strftime("%Y-%m-%dT%H:%M"),
    }  # fmt: skip
    assert client.post(address, typed).status_code == 302
    assert Pencil.objects.get().shift == "night"
    page = client.get(reverse("hire:line_list"))
    assert "Wet hire. Works by night" in text_of(page)
    assert saved(client, reverse("hire:line_list"))[0]["Why"].endswith("Wet hire. Works by night")
    links = [
        part.split('"')[0]
        for part in page.content.decode().split('href="')
        if "?pencil=" in part and "goes=wet" in part
    ]
    assert len(links) == 2
    for link in links:
        assert client.get(link.replace("&amp;", "&")).context["form"]["shift"].value() == "night"


def test_a_booking_keeps_it_to_the_operator_and_the_docket(client, desk):
    customer = CustomerFactory()
    assert (
        client.get(f"{reverse('hire:booking_add')}?shift=night").context["form"]["shift"].value() == "night"
    )
    typed = WORK | {"customer": customer.pk, "shift": "night"}
    assert client.post(reverse("hire:booking_add"), typed).status_code == 302
    booking = Booking.objects.get()
    assert "Wet hire by night" in text_of(client.get(reverse("hire:booking_list")))
    [line] = promise_bookings(chosen={booking: CartFactory()}, by=desk, at=timezone.now())
    assert line.agreement.shift == "night"
    form = client.get(reverse("hire:operator_put", args=[line.pk])).context["form"]
    assert form.fields["shift"].choices == [(2, "Night shift")]


def test_the_gate_asks_for_the_night_operator_and_no_other():
    line = WetHireFactory(line__agreement__is_night=True).line
    found = judged(line, AT)
    assert operator_codes(found) == ([], ["operator.none"])
    assert "no operator is chosen for the night shift" in next(
        one.sentence for one in found.cautions if one.code == "operator.none"
    )
    turn = TurnFactory(line=line, shift=1)
    assert operator_codes(judged(line, AT))[1] == ["operator.none"]
    type(turn).objects.filter(pk=turn.pk).update(shift=2)
    assert operator_codes(judged(line, AT)) == ([], [])
    [words] = operator_words(wets_of([line.pk])[line.pk].turns, wets_of([line.pk])[line.pk])
    assert ", night shift, licence" in words


def test_an_operator_chosen_with_a_hire_by_night_is_put_on_its_night(client, at):
    operator = OperatorFactory()
    typed = WORK | {
        "customer": CustomerFactory().pk,
        "cart": CartFactory().pk,
        "shift": "night",
        "operator": operator.pk,
    }
    assert client.post(reverse("hire:line_add"), typed).status_code == 302
    assert Line.objects.get().turns.get().shift == 2


def test_a_docket_of_a_hire_by_night_is_a_night_s_until_somebody_says_otherwise(client):
    line = wet_out(at=timezone.now(), agreement__is_night=True).line
    address = reverse("hire:daily_add", args=[line.pk])
    assert client.get(address).context["form"]["is_night"].value() is True
    other = wet_out(at=timezone.now()).line
    assert client.get(reverse("hire:daily_add", args=[other.pk])).context["form"]["is_night"].value() is False


def test_a_hire_by_night_owes_its_pre_start_for_the_night():
    [night] = shifts_on(yard_day(AT), hours_of("Australia/Adelaide", 1, is_night=True))
    assert night == shifts_on(yard_day(AT), hours_of("Australia/Adelaide", 2, is_night=False))[0]


@pytest.mark.parametrize("factory", [BookingFactory, AgreementFactory])
def test_the_database_keeps_night_alone_to_one_shift(factory):
    with pytest.raises(IntegrityError, match="night_is_one_shift"), transaction.atomic():
        factory(is_night=True, shifts_a_day=2)


def test_the_database_knows_the_shifts_of_a_pencil():
    with pytest.raises(IntegrityError, match="hire_pencil_shift_known"), transaction.atomic():
        PencilFactory(shift="noon")


def test_nobody_is_put_on_a_shift_the_hire_does_not_have(client):
    """The form offers its own alone."""
    line = WetHireFactory().line
    typed = {
        "operator": OperatorFactory().pk, "shift": "2",
        "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00",
    }  # fmt: skip
    assert client.post(reverse("hire:operator_put", args=[line.pk]), typed).status_code == 422
    assert not line.turns.exists()
