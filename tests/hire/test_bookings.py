"""A hire booked by what its cart must be: it keeps no cart, and becomes a hire once one is chosen for it, all or none."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from hire.actions.agreements import CustomerStopped
from hire.actions.bookings import (
    BookedTooLate,
    BookingOver,
    CannotPromise,
    NothingChosen,
    cancel_booking,
    make_booking,
    promise_bookings,
)
from hire.actions.clashes import EndsBeforeItStarts
from hire.availability import answer
from hire.models.agreements import Agreement, Line
from hire.models.bookings import Booking
from hire.suiting import Enquiry
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, BookingFactory, CustomerFactory, LineFactory, PencilFactory
from tests.factories.people import StaffFactory

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY
OTHERS = sorted(set(Role) - DESK)


def booked(desk, **changed):
    facts = {
        "customer": None, "place_of_work": "Pit 4", "order_number": "PO 9", "leaves_by": "float", "works_on": "site",
        "pre_start_book": "theirs", "shifts_a_day": 2, "water": "any", "litres": 18_000, "gear": ["rops", "cannon"],
        "drive_axles": 2, "starts_at": START, "ends_at": START + 7 * DAY, "by": desk, "at": AT,
    } | changed  # fmt: skip
    facts["customer"] = facts["customer"] or CustomerFactory(name="Merrin Civil")
    return make_booking(**facts)


def waiting(**changed):
    return BookingFactory(**{"made_at": AT - DAY, "starts_at": START} | changed)


def test_it_is_on_record_and_in_the_journal(desk):
    booking = booked(desk)
    booking.refresh_from_db()
    assert list(Booking.objects.open()) == [booking]
    assert (booking.gear, booking.litres, booking.drive_axles) == (["cannon", "rops"], 18_000, 2)
    entry = Entry.objects.get(event="hire.booking.made")
    assert (entry.by, entry.subject_id, entry.chain) == (desk, booking.pk, "yard")


def test_it_keeps_no_cart_from_anybody(desk):
    CartFactory()
    waiting()
    assert len(answer(Enquiry(START, START + DAY), at=AT).suiting) == 1


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"ends_at": START}, EndsBeforeItStarts),
        ({"starts_at": AT - 9 * DAY, "ends_at": AT}, BookedTooLate),
    ],
)
def test_times_that_make_no_sense_are_refused(desk, changed, refusal):
    with pytest.raises(refusal):
        booked(desk, **changed)


def test_a_customer_who_is_stopped_books_nothing(desk):
    with pytest.raises(CustomerStopped, match="no new hires"):
        booked(desk, customer=CustomerFactory(is_stopped=True))


@pytest.mark.parametrize("role", OTHERS)
def test_only_the_desk_books_cancels_and_promises(role):
    other, booking = StaffFactory(role=role), waiting()
    with pytest.raises(NotAllowed):
        booked(other)
    with pytest.raises(NotAllowed):
        cancel_booking(booking=booking, why="x", by=other, at=AT)
    with pytest.raises(NotAllowed):
        promise_bookings(chosen={booking: CartFactory()}, by=other, at=AT)
    assert Booking.objects.open().count() == 1


def test_cancelled_it_says_why_and_is_over(desk):
    booking = cancel_booking(
        booking=waiting(customer__name="Merrin Civil"), why="The job is off", by=desk, at=AT
    )
    assert not Booking.objects.open().exists()
    assert (booking.ended_how, booking.cancelled_why) == ("cancelled", "The job is off")
    assert "The job is off" in Entry.objects.get(event="hire.booking.cancelled").text
    with pytest.raises(BookingOver, match=r"Merrin Civil, Saltbush Road widening.*it was cancelled"):
        cancel_booking(booking=booking, why="Twice", by=desk, at=AT)
    with pytest.raises(BookingOver):
        promise_bookings(chosen={booking: CartFactory()}, by=desk, at=AT)


def test_promised_each_is_a_hire_with_all_that_was_asked(desk):
    one, other = booked(desk), waiting(starts_at=START + DAY)
    carts = CartFactory(fleet_number="WC-1"), CartFactory(fleet_number="WC-2")
    lines = promise_bookings(chosen={other: carts[1], one: carts[0]}, by=desk, at=AT)
    assert [line.cart.fleet_number for line in lines] == ["WC-1", "WC-2"]
    about = lines[0].agreement
    assert (about.customer, about.place_of_work, about.order_number, about.leaves_by, about.works_on) == (
        one.customer, "Pit 4", "PO 9", "float", "site",
    )  # fmt: skip
    assert (about.pre_start_book, about.shifts_a_day, about.water) == ("theirs", 2, "any")
    assert (lines[0].promised.lower, lines[0].promised.upper) == (START, START + 7 * DAY)
    one.refresh_from_db()
    assert (one.ended_how, one.ended_at, one.line) == ("promised", AT, lines[0])
    assert not Booking.objects.open().exists()
    with pytest.raises(BookingOver, match=f"WC-1 is promised for it on {about.number}"):
        cancel_booking(booking=one, why="Too late", by=desk, at=AT)


def test_the_lot_is_one_entry_in_each_journal_it_touches(desk):
    bookings = [waiting(), waiting()]
    carts = [CartFactory(), CartFactory()]
    promise_bookings(chosen=dict(zip(bookings, carts, strict=True)), by=desk, at=AT)
    entries = Entry.objects.filter(event="hire.booking.promised")
    assert {entry.chain for entry in entries} == {"yard", *(f"cart:{cart.pk}" for cart in carts)}
    assert len({entry.action_id for entry in entries}) == 1
    assert Entry.objects.filter(event="hire.agreement.made", chain="yard").count() == 2


def taken_by_a_hire(cart):
    LineFactory(cart=cart, starts_at=START + DAY)


def taken_by_a_pencil(cart):
    PencilFactory(cart=cart, made_at=AT - HOUR, period=(START, START + DAY), caller_words="Ada Kell")


def leaving_the_fleet(cart):
    cart.retired_on = (START + 2 * DAY).date()
    cart.save()


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (taken_by_a_hire, "WC-2 is promised to"),
        (taken_by_a_pencil, "WC-2 is pencilled for Ada Kell"),
        (leaving_the_fleet, "WC-2 leaves the fleet"),
    ],
)
def test_one_cart_that_is_taken_refuses_the_lot_and_says_which_and_whose(desk, spoil, words):
    free, cart = CartFactory(), CartFactory(fleet_number="WC-2")
    spoil(cart)
    before = Agreement.objects.count(), Line.objects.count(), Entry.objects.count()
    other = waiting(starts_at=START + HOUR, place_of_work="Pit 4", customer__name="Merrin Civil")
    chosen = {waiting(): free, other: cart}
    with pytest.raises(CannotPromise) as refused:
        promise_bookings(chosen=chosen, by=desk, at=AT)
    assert refused.value.sentence.startswith("WC-2 for Merrin Civil, Pit 4, from")
    assert words in refused.value.sentence
    assert (Agreement.objects.count(), Line.objects.count(), Entry.objects.count()) == before
    assert Booking.objects.open().count() == 2


def test_a_potable_booking_is_refused_a_tank_that_may_not_carry_it(desk):
    with pytest.raises(CannotPromise, match="not for potable water"):
        promise_bookings(chosen={waiting(water="potable"): CartFactory()}, by=desk, at=AT)


def test_two_bookings_of_one_cart_one_after_the_other(desk):
    cart, first, second = CartFactory(), waiting(), waiting(starts_at=START + 7 * DAY)
    assert len(promise_bookings(chosen={second: cart, first: cart}, by=desk, at=AT)) == 2


def test_a_lapsed_pencil_is_in_nobodys_way(desk):
    pencil = PencilFactory(made_at=AT - DAY, expires_at=AT - HOUR, period=(START, START + DAY))
    promise_bookings(chosen={waiting(): pencil.cart}, by=desk, at=AT)
    pencil.refresh_from_db()
    assert pencil.ended_how == "lapsed"


def test_nothing_chosen_is_said(desk):
    with pytest.raises(NothingChosen, match="Tick the bookings"):
        promise_bookings(chosen={}, by=desk, at=AT)


@pytest.mark.parametrize(
    ("values", "constraint"),
    [
        ({"period": DateTimeTZRange(START, START)}, "hire_booking_period_in_order"),
        ({"period": DateTimeTZRange(START, None)}, "hire_booking_period_in_order"),
        ({"drive_axles": 3}, "hire_booking_drive_known"),
        ({"shifts_a_day": 3}, "hire_booking_shifts_known"),
        ({"water": "wine"}, "hire_booking_water_known"),
        ({"litres": -1}, "hire_booking_litres_check"),
        ({"ended_at": AT}, "hire_booking_ended_whole"),
        ({"ended_how": "cancelled", "cancelled_why": "x"}, "hire_booking_ended_whole"),
        ({"ended_at": AT, "ended_how": "cancelled"}, "hire_booking_ended_whole"),
        ({"ended_at": AT, "ended_how": "promised"}, "hire_booking_ended_whole"),
        ({"cancelled_why": "x"}, "hire_booking_ended_whole"),
        ({"ended_at": AT - 2 * DAY, "ended_how": "cancelled", "cancelled_why": "x"}, "hire_booking_ended_whole"),
    ],
)  # fmt: skip
def test_the_database_keeps_a_booking_whole(values, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        waiting(**values)


def test_the_database_keeps_a_hire_to_one_booking_and_not_to_a_cancelled_one():
    line = LineFactory()
    waiting(ended_at=AT, ended_how="promised", line=line)
    with pytest.raises(IntegrityError, match="line_id"), transaction.atomic():
        waiting(ended_at=AT, ended_how="promised", line=line)
    with pytest.raises(IntegrityError, match="hire_booking_ended_whole"), transaction.atomic():
        waiting(ended_at=AT, ended_how="cancelled", cancelled_why="x", line=LineFactory())
    with pytest.raises(IntegrityError, match="hire_booking_ended_whole"), transaction.atomic():
        waiting(ended_at=AT, ended_how="promised", cancelled_why="x", line=LineFactory())
