"""Desks that promise at one moment: each booking gets one cart, nobody waits for ever, and the journal stays whole."""

from datetime import timedelta

import pytest

from hire.actions.agreements import add_line, make_agreement
from hire.actions.bookings import BookingOver, CannotPromise, promise_bookings
from hire.actions.clashes import CartPromised
from hire.models.agreements import Agreement, Line
from hire.models.bookings import Booking
from people.journal.verify import faults_in_journal
from tests.at_once import at_once
from tests.factories.fleet import CartFactory
from tests.factories.hire import AgreementFactory, BookingFactory, CustomerFactory
from tests.factories.people import StaffFactory

pytestmark = pytest.mark.django_db(transaction=True)
DAY = timedelta(days=1)


def bare_carts(number):
    return [CartFactory(layout__none=True, gear=(), meters=()) for _ in range(number)]


def waiting(at, number):
    return [BookingFactory(made_at=at - DAY, starts_at=at + DAY) for _ in range(number)]


def test_two_desks_promise_the_same_bookings_and_one_of_them_is_told(at):
    desk, carts, bookings = StaffFactory(role="hire_desk"), bare_carts(6), waiting(at, 3)

    def promise(some, which):
        chosen = dict(zip(some, which, strict=True))
        return lambda: promise_bookings(chosen=chosen, by=desk, at=at)

    given = at_once(promise(bookings, carts[:3]), promise(bookings[::-1], carts[3:]))
    assert sorted(type(one).__name__ for one in given) == ["BookingOver", "list"]
    assert "is promised for it on H" in next(one for one in given if isinstance(one, BookingOver)).sentence
    assert Line.objects.count() == 3
    assert not Booking.objects.open().exists()
    assert list(faults_in_journal()) == []


def test_two_desks_promise_the_same_carts_in_opposite_orders(at):
    desk, carts = StaffFactory(role="hire_desk"), bare_carts(4)
    mine, theirs = waiting(at, 4), waiting(at, 4)

    def promise(some, which):
        chosen = dict(zip(some, which, strict=True))
        return lambda: promise_bookings(chosen=chosen, by=desk, at=at)

    given = at_once(promise(mine, carts), promise(theirs, carts[::-1]))
    assert sorted(type(one).__name__ for one in given) == ["CannotPromise", "list"]
    assert Booking.objects.open().count() == 4
    assert Line.objects.count() == 4
    assert list(faults_in_journal()) == []


def new_agreement(desk, cart, starts_at, at):
    return make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
        cart=cart, starts_at=starts_at, ends_at=starts_at + DAY, by=desk, at=at,
    )  # fmt: skip


def one_more_cart(desk, cart, starts_at, at):
    agreement = Agreement.objects.get(number="H2025-00077")
    return add_line(
        agreement=agreement, cart=cart, starts_at=starts_at, ends_at=starts_at + DAY, by=desk, at=at
    )


@pytest.mark.parametrize("promise", [new_agreement, one_more_cart])
def test_a_caller_gets_one_of_the_carts_the_very_moment_they_are_promised(promise, at):
    AgreementFactory(number="H2025-00077")
    desk, carts = StaffFactory(role="hire_desk"), bare_carts(4)
    for round_number in range(12):
        starts_at = at + 10 * round_number * DAY + DAY
        # By the time the lot comes to the last of its carts it holds the journals of all.
        bookings = [
            BookingFactory(made_at=at - DAY, starts_at=starts_at + n * timedelta(hours=1)) for n in range(4)
        ]
        chosen = dict(zip(bookings, carts, strict=True))

        def lot(chosen=chosen):
            return promise_bookings(chosen=chosen, by=desk, at=at)

        def caller(starts_at=starts_at + timedelta(hours=3)):
            return promise(desk, carts[-1], starts_at, at)

        won, lost = sorted(at_once(lot, caller), key=lambda one: isinstance(one, Exception))
        assert isinstance(won, list | Line), (won, lost)
        assert isinstance(lost, CartPromised if isinstance(won, list) else CannotPromise), lost
        promised = Line.objects.filter(promised__startswith__range=(starts_at, starts_at + DAY))
        assert promised.count() == (4 if isinstance(won, list) else 1)
