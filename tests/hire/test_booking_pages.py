"""The desk books from what a caller asked, sees the carts proposed for all bookings, and promises them with one button."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire import booking_carts
from hire.booking_carts import Proposal
from hire.models.agreements import Line
from hire.models.bookings import Booking
from tests.factories.fleet import CartFactory, DefectFactory, HoldFactory
from tests.factories.hire import BookingFactory, CustomerFactory, LineFactory, PencilFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
ASKED = {
    "litres": "10000", "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00", "place_of_work": "Pit 4",
    "leaves_by": "float", "works_on": "site", "water": "any", "drive_axles": "0", "gear": ["cannon", "rops"],
}  # fmt: skip
LIST = "/hire/bookings/"


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def typed(**changed):
    facts = {
        "customer": CustomerFactory().pk,
        "order_number": "PO 7",
        "pre_start_book": "ours",
        "shift": "day",
    }
    return ASKED | facts | changed


def pairs(client):
    return [one.pair for one in client.get(LIST).context["found"].choices if one.cart]


def test_what_a_caller_asked_is_carried_into_the_booking(client):
    page = client.get(reverse("hire:enquiry"), ASKED)
    assert "Book it, cart chosen later" in text_of(page)
    [link] = [part.split('"')[0] for part in page.content.decode().split('href="') if "bookings/add" in part]
    form = client.get(link.replace("&amp;", "&")).context["form"]
    for name, value in ASKED.items():
        assert form.initial[name] == value
    assert 'value="cannon"' in str(form["gear"])
    assert str(form["gear"]).count("checked") == 2


def test_the_form_makes_it_and_leads_to_the_carts(client):
    page = text_of(client.post(reverse("hire:booking_add"), typed(), follow=True))
    booking = Booking.objects.get()
    assert (booking.place_of_work, booking.order_number, booking.litres, booking.gear) == (
        "Pit 4", "PO 7", 10_000, ["cannon", "rops"],
    )  # fmt: skip
    assert f"Booked for {booking.customer.name}." in page
    assert "10,000 L, cannon, rollover frame." in page


@pytest.mark.parametrize(
    "wrong",
    [
        {"ends_at": ASKED["starts_at"]},
        {"starts_at": "2020-02-01T05:30", "ends_at": "2020-02-08T05:30"},
        {"customer": "7"},
        {"place_of_work": ""},
        {"place_of_work": "x\x00y"},
        {"litres": "-1"},
        {"litres": "99999999999"},
        {"gear": ["wings"]},
        {"drive_axles": "3"},
        {"water": "wine"},
        {"shift": "noon"},
        {"leaves_by": ""},
    ],
)
def test_a_faulty_form_comes_back_with_everything_typed(client, wrong):
    answer = client.post(reverse("hire:booking_add"), typed(**wrong))
    assert answer.status_code == 422
    assert 'value="PO 7"' in answer.content.decode()
    assert not Booking.objects.exists()


def test_the_page_changes_nothing_until_the_button_is_pressed(client):
    cart, booking = CartFactory(fleet_number="WC-9"), BookingFactory()
    page = client.get(LIST)
    assert page.content.decode().count('name="pair"') == page.content.decode().count(" checked") == 1
    assert not Line.objects.exists()
    answer = client.post(LIST, {"pair": pairs(client)}, follow=True)
    line = Line.objects.get()
    assert (line.cart, line.agreement.customer) == (cart, booking.customer)
    assert f"Promised: WC-9 on {line.agreement.number}." in text_of(answer)
    assert "No booking waits for its cart." in text_of(answer)


def test_a_cart_that_something_stops_is_ticked_by_a_person(client):
    HoldFactory(cart=CartFactory())
    BookingFactory()
    page = client.get(LIST).content.decode()
    assert (page.count('name="pair"'), page.count(" checked")) == (1, 0)
    client.post(LIST, {"pair": pairs(client)})
    assert Line.objects.count() == 1


def test_only_what_is_ticked_is_promised(client):
    CartFactory(), CartFactory()
    BookingFactory(), BookingFactory()
    first, _ = pairs(client)
    client.post(LIST, {"pair": [first]})
    assert Booking.objects.open().count() == 1
    assert str(Booking.objects.get(ended_how="promised").pk) == first.partition(".")[0]


def test_a_cart_taken_meanwhile_brings_the_page_back_and_promises_nothing(client):
    CartFactory(fleet_number="WC-1")
    taken = CartFactory(fleet_number="WC-2")
    for _ in range(3):
        BookingFactory()
    sent, now = pairs(client), timezone.now()
    other = LineFactory(cart=taken, starts_at=now + 360 * DAY, ends_at=now + 380 * DAY)
    answer = client.post(LIST, {"pair": sent})
    page = text_of(answer)
    assert answer.status_code == 422
    assert "WC-2 for " in page
    assert f"WC-2 is promised to {other.agreement.customer.name} on {other.agreement.number}" in page
    assert list(Line.objects.all()) == [other]
    assert Booking.objects.open().count() == 3


def test_what_was_unticked_stays_so_when_the_page_comes_back(client):
    for _ in range(3):
        CartFactory()
    BookingFactory(), BookingFactory()
    kept, _ = pairs(client)
    PencilFactory(cart_id=kept.partition(".")[2])
    page = client.post(LIST, {"pair": [kept]}).content.decode()
    assert "is pencilled for Ada Kell" in page
    assert (page.count('name="pair"'), page.count(" checked")) == (2, 1)
    assert client.get(LIST).content.decode().count(" checked") == 2


@pytest.mark.parametrize(
    "sent", [[], ["x"], ["."], ["\x00.\x00"], [f"{'0' * 32}.{'0' * 32}"], ["{booking}.x"], ["{booking}"], ["x.{cart}"]]
)  # fmt: skip
def test_rubbish_promises_nothing_and_says_so(client, sent):
    cart, booking = CartFactory(), BookingFactory()
    answer = client.post(LIST, {"pair": [one.format(booking=booking.pk, cart=cart.pk) for one in sent]})
    assert answer.status_code == 422
    assert "Nothing is promised" in text_of(answer)
    assert not Line.objects.exists()


def test_it_says_what_stops_a_cart_and_where_there_is_none(client):
    held = CartFactory(fleet_number="WC-1", tank_capacity_l=15_000)
    DefectFactory(cart=held, grade="do_not_use", title="Park-brake alarm")
    LineFactory(
        cart=CartFactory(fleet_number="WC-2", tank_capacity_l=25_000), agreement__customer__name="Mallee Ridge Wind",
        starts_at=timezone.now() + 360 * DAY, ends_at=timezone.now() + 380 * DAY,
    )  # fmt: skip
    BookingFactory(litres=15_000), BookingFactory(litres=25_000)
    page = text_of(client.get(LIST))
    assert "1 of 2 can have a cart." in page
    assert "Park-brake alarm" in page
    assert f"WC-2 if {Line.objects.get().agreement.number} (Mallee Ridge Wind) moved" in page
    assert "Time ran out" not in page


def test_it_says_so_when_the_answer_is_not_proved_or_not_all(client, monkeypatch):
    BookingFactory()
    [one] = booking_carts.propose(at=timezone.now()).choices
    found = Proposal((one,), is_best=False, left_out=7)
    monkeypatch.setattr("hire.views.bookings.propose", lambda **_: found)
    page = text_of(client.get(LIST))
    assert "Time ran out before it was proved that no other choice is better." in page
    assert "7 later ones follow once these have their carts." in page


def test_the_proposal_is_saved_as_it_stands(client):
    cart, booking = CartFactory(tank_capacity_l=15_000, gear=("cannon",)), BookingFactory(litres=14_000)
    BookingFactory(litres=60_000)
    first, second = sorted(saved(client, LIST), key=lambda row: row["Asked"])
    assert (first["Customer"], first["Cart"]) == (booking.customer.name, cart.fleet_number)
    assert (first["Asked"], first["More than asked"]) == ("14,000 L", "1,000 L, cannon")
    assert (second["Cart"], second["What would free one"][:29]) == ("", "No cart of the fleet has what")


MOVES = f"{LIST}?moves=yes"


@pytest.fixture
def crossed():
    """The hire that asked for 10,000 L has the large cart; the booking wants more than the small one has."""
    start = timezone.now() + 365 * DAY
    large, small = (
        CartFactory(fleet_number=n, tank_capacity_l=size, gear=())
        for n, size in (("WC-1", 22_000), ("WC-2", 12_000))
    )
    line = LineFactory(cart=large, starts_at=start, litres=10_000)
    return line, small, BookingFactory(starts_at=start, litres=20_000)


def ticked(client, address=MOVES):
    found = client.get(address).context["found"]
    return {
        "pair": [one.pair for one in found.choices if one.cart],
        "move": [one.triple for one in found.moves],
    }


def test_promised_hires_keep_their_carts_until_somebody_says_they_may_move(client, crossed):
    line, _, _ = crossed
    page = text_of(client.get(LIST))
    assert "0 of 1 can have a cart. Nothing is changed until you promise them." in page
    assert "Promised hires keep their carts." in page
    assert f"WC-1 if {line.agreement.number} ({line.agreement.customer.name}) moved" in page
    assert f'href="{MOVES[len(LIST) :]}"' in client.get(LIST).content.decode()


def test_with_moves_it_says_which_hire_gets_which_cart_and_why_and_what_is_done_again(client, crossed):
    line, _, booking = crossed
    page = text_of(client.get(MOVES))
    assert (
        "1 of 1 can have a cart, where 1 promised hire has another one. Nothing is changed until you promise them."
        in page
    )
    assert "Leave promised hires as they are" in page
    assert f"<b>Why:</b> WC-1 is then free for the booking of {booking}" in page
    assert "12,000 L, instead of <a" in page
    assert "Walk WC-2 before it leaves; its certificate is issued then." in page
    assert "Promise these, and send the other carts" in page
    assert client.get(MOVES).content.decode().count(" checked") == 2
    line.refresh_from_db()
    assert line.cart.fleet_number == "WC-1"


def test_both_are_accepted_at_once(client, crossed):
    line, small, _ = crossed
    page = text_of(client.post(MOVES, ticked(client), follow=True))
    line.refresh_from_db()
    assert line.cart == small
    new = Line.objects.exclude(pk=line.pk).get()
    assert (
        f"Promised: WC-1 on {new.agreement.number}. Another cart goes now: WC-2 on {line.agreement.number}."
        in page
    )


def test_what_was_unticked_makes_no_room_and_both_ticks_stay_as_they_were(client, crossed):
    line, _, booking = crossed
    answer = client.post(MOVES, ticked(client) | {"move": []})
    assert answer.status_code == 422
    assert f"on {line.agreement.number}" in answer.context["refusal"]
    assert answer.context["ticked"] == {str(booking.pk)}
    assert "Nothing is promised" in text_of(answer)
    answer = client.post(MOVES, ticked(client) | {"pair": []})
    assert "Nothing is ticked" in answer.context["refusal"]
    assert answer.content.decode().count(" checked") == 1


def test_where_moves_are_off_none_is_made_whatever_is_sent(client, crossed):
    line, _, _ = crossed
    assert client.post(LIST, ticked(client)).status_code == 422
    line.refresh_from_db()
    assert line.cart.fleet_number == "WC-1"


@pytest.mark.parametrize(
    "sent", ["x", "..", "x.y.z", f"{'0' * 32}.{'0' * 32}.{'0' * 32}", "\x00.\x00.\x00", "{line}.x.x"]
)
def test_rubbish_moves_nothing(client, crossed, sent):
    answer = client.post(MOVES, ticked(client) | {"move": [sent.format(line=crossed[0].pk)]})
    assert answer.status_code == 422
    assert "is not on record. Look at the page again." in answer.context["refusal"]
    assert Line.objects.count() == 1


def test_the_hires_that_move_are_saved_in_a_file_of_their_own(client, crossed):
    line, _, booking = crossed
    [row] = saved(client, LIST, moves="yes", table="moves")
    assert (row["Agreement"], row["Cart now"], row["Cart instead"]) == (line.agreement.number, "WC-1", "WC-2")
    assert row["Why"].startswith(f"WC-1 is then free for the booking of {booking}")
    assert "Walk WC-2 before it leaves" in row["To be done again"]
    [row] = saved(client, LIST, moves="yes")
    assert row["Cart"] == "WC-1"


def test_a_booking_is_cancelled_with_why_and_once(client):
    booking = BookingFactory()
    address = reverse("hire:booking_cancel", args=[booking.pk])
    assert client.post(address, {"why": ""}).status_code == 422
    assert "is cancelled." in text_of(client.post(address, {"why": "The job is off"}, follow=True))
    answer = client.post(address, {"why": "Twice"})
    assert answer.status_code == 422
    assert "is over: it was cancelled." in text_of(answer)
    booking.refresh_from_db()
    assert booking.cancelled_why == "The job is off"


def test_the_day_sheet_has_what_is_booked_and_its_file_too(client):
    address = reverse("hire:line_list")
    assert "Booked, cart not chosen" not in text_of(client.get(address))
    booking = BookingFactory(litres=14_000)
    BookingFactory(ended_at=timezone.now() + DAY, ended_how="cancelled", cancelled_why="x")
    page = text_of(client.get(address))
    assert "Booked, cart not chosen" in page
    assert page.count("Cancel it") == 1
    [row] = saved(client, address)
    assert (row["Part"], row["Cart"], row["Customer"]) == (
        "Booked, cart not chosen",
        "",
        booking.customer.name,
    )
    assert (row["Order number"], row["Why"]) == ("PO 88413", "Asked: 14,000 L")


def test_the_pages_cost_the_same_for_three_bookings_and_thirty(client):
    def add(count):
        for _ in range(count):
            CartFactory(tank_capacity_l=15_000)
            BookingFactory(litres=15_000)
            BookingFactory(litres=60_000)

    pages = [LIST, f"{LIST}?as=csv", reverse("hire:line_list"), f"{reverse('hire:line_list')}?as=csv"]
    add(3)
    few = [queries_of(client, page) for page in pages]
    add(27)
    assert [queries_of(client, page) for page in pages] == few
