"""Accepting the carts proposed: hires exchange theirs and bookings get one in one go, or nothing is changed and it says why."""

from datetime import timedelta
from functools import partial

import pytest

from hire.actions.accept_carts import Accepted, CannotMove, MovedForNothing, Moving, accept_carts
from hire.actions.agreements import cancel_line, move_line
from hire.actions.another_cart import send_another
from hire.actions.bookings import CannotPromise, NothingChosen, promise_bookings
from hire.actions.clashes import CartPromised
from hire.models.agreements import Line
from hire.models.bookings import Booking
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, BookingFactory, LineFactory, PencilFactory
from tests.factories.people import StaffFactory

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY


def bare(number, litres):
    return CartFactory(fleet_number=number, tank_capacity_l=litres, gear=(), meters=(), layout__none=True)


class Yard:
    """The large cart is promised for a week and the small one for a day; a booking of the days after wants the large one."""

    def __init__(self, more=""):
        self.desk = StaffFactory(role="hire_desk")
        self.large, self.small = bare(f"LARGE{more}", 22_000), bare(f"SMALL{more}", 12_000)
        self.week = LineFactory(cart=self.large, starts_at=START, litres=10_000)
        self.day = LineFactory(cart=self.small, starts_at=START, ends_at=START + DAY, litres=10_000)
        self.booking = BookingFactory(made_at=AT - DAY, starts_at=START + 3 * DAY, litres=20_000)

    @property
    def moves(self):
        return [Moving(self.week, self.small, self.large), Moving(self.day, self.large, self.small)]

    def accept(self, **changed):
        asked = {
            "chosen": {self.booking: self.large},
            "moves": self.moves,
            "by": self.desk,
            "at": AT,
        } | changed
        return accept_carts(**asked)

    def carts(self):
        return dict(Line.objects.order_by("promised").values_list("agreement__number", "cart__fleet_number"))

    def is_as_it_was(self):
        numbers = {self.week.agreement.number: "LARGE", self.day.agreement.number: "SMALL"}
        return {key: self.carts()[key] for key in numbers} == numbers and Booking.objects.open().exists()


@pytest.fixture
def yard(db):
    return Yard()


def test_two_hires_exchange_their_carts_and_the_booking_gets_its(yard):
    done = yard.accept()
    assert [line.cart for line in done.moved] in ([yard.small, yard.large], [yard.large, yard.small])
    [line] = done.promised
    assert yard.carts() == {
        yard.week.agreement.number: "SMALL", yard.day.agreement.number: "LARGE", line.agreement.number: "LARGE",
    }  # fmt: skip
    assert Booking.objects.get().line == line
    assert Message.objects.filter(kind="hire.issue_certificate", made_at=AT).count() == 3


@pytest.mark.parametrize("backwards", [False, True])
def test_in_whichever_order_they_are_told(yard, backwards):
    yard.accept(moves=yard.moves[::-1] if backwards else yard.moves)
    assert yard.carts()[yard.week.agreement.number] == "SMALL"


def test_the_journal_says_who_makes_room_for_whom(yard):
    yard.accept()
    moved = Entry.objects.filter(event="hire.line.another_cart", chain="yard").order_by("pk")
    texts = " ".join(entry.text for entry in moved)
    assert f"LARGE is free so for the booking of {yard.booking}" in texts
    assert f"SMALL is free so for {yard.week.agreement.number}" in texts
    [lot] = Entry.objects.filter(event="hire.booking.promised", chain="yard")
    assert f'"agreement":"{yard.week.agreement.number}","before":"LARGE","cart":"SMALL"' in lot.text
    assert list(faults_in_journal()) == []


def test_without_moves_it_is_the_promise_there_was(yard):
    other = bare("OTHER", 25_000)
    done = yard.accept(chosen={yard.booking: other}, moves=())
    assert done == Accepted(done.promised)
    assert (done.promised[0].cart, done.moved) == (other, ())


class TestRefused:
    def test_by_nobody_but_the_desk(self, yard):
        for role in set(Role) - DESK:
            with pytest.raises(NotAllowed):
                yard.accept(by=StaffFactory(role=role))
        assert yard.is_as_it_was()

    def test_a_move_for_nobody(self, yard):
        with pytest.raises(NothingChosen):
            yard.accept(chosen={})
        with pytest.raises(
            MovedForNothing, match=f"{yard.day.agreement.number} would be taken off SMALL for nobody"
        ):
            yard.accept(moves=yard.moves[1:])
        assert yard.is_as_it_was()

    def test_a_booking_without_the_move_that_makes_room_for_it(self, yard):
        with pytest.raises(CannotPromise, match=f"LARGE is promised to .* on {yard.week.agreement.number}"):
            yard.accept(moves=())
        assert yard.is_as_it_was()

    def test_one_half_of_an_exchange(self, yard):
        with pytest.raises(CannotMove, match=f"SMALL is promised to .* on {yard.day.agreement.number}"):
            yard.accept(moves=yard.moves[:1])
        assert yard.is_as_it_was()

    def test_a_hire_that_has_another_cart_by_now_left_or_is_cancelled(self, yard):
        other = bare("OTHER", 12_000)
        send_another(line=yard.day, cart=other, instead_of=yard.small, why="Pump", by=yard.desk, at=AT)
        with pytest.raises(CannotMove, match="OTHER was chosen instead of SMALL meanwhile"):
            yard.accept()
        cancel_line(line=yard.day, why="Rain", by=yard.desk, at=AT)
        with pytest.raises(CannotMove, match="is cancelled for OTHER"):
            yard.accept()
        Line.objects.filter(pk=yard.week.pk).update(handed_over_at=AT, left_entered_at=AT)
        with pytest.raises(CannotMove, match="LARGE has left on "):
            yard.accept(moves=yard.moves[:1])
        assert Booking.objects.open().count() == 1

    @pytest.mark.parametrize(
        ("changed", "says"),
        [
            ({"is_this_cart": True}, "SMALL instead of LARGE on .*: the hire was promised this very cart. It keeps its cart."),
            ({"litres": 12_500}, "it has not what is asked: 500 L less than asked. Look at the page again."),
            ({"gear": ["cannon"]}, "it has not what is asked: no cannon"),
        ],
    )  # fmt: skip
    def test_what_changed_since_it_was_looked_at(self, yard, changed, says):
        Line.objects.filter(pk=yard.week.pk).update(**changed)
        with pytest.raises(CannotMove, match=says):
            yard.accept()
        assert yard.is_as_it_was()

    def test_a_hire_that_is_to_leave_by_now(self, yard):
        with pytest.raises(CannotMove, match="the hire leaves within 24 hours"):
            yard.accept(at=START - DAY)
        assert yard.is_as_it_was()

    def test_a_cart_promised_pencilled_or_moved_into_the_way_by_now(self, yard):
        pencil = PencilFactory(
            cart=yard.small, period=(START + 5 * DAY, START + 6 * DAY), made_at=AT, made_by=yard.desk
        )
        with pytest.raises(CannotMove, match="SMALL is pencilled for Ada Kell"):
            yard.accept()
        pencil.delete()
        other = LineFactory(cart=yard.small, starts_at=START + 5 * DAY)
        with pytest.raises(CannotMove, match=f"on {other.agreement.number}"):
            yard.accept()
        other.delete()
        # Now it would be on the large cart while the booking is.
        move_line(line=yard.day, starts_at=START, ends_at=START + 4 * DAY, by=yard.desk, at=AT)
        with pytest.raises(CannotPromise, match=f"on {yard.day.agreement.number}"):
            yard.accept()
        assert yard.is_as_it_was()

    def test_nothing_of_it_is_kept_in_the_journal(self, yard):
        before = Entry.objects.count()
        with pytest.raises(CannotMove):
            yard.accept(moves=yard.moves[:1])
        assert Entry.objects.count() == before

    def test_overlaps_are_looked_at_again_as_ever_afterwards(self, yard):
        with pytest.raises(CannotMove):
            yard.accept(moves=yard.moves[:1])
        yard.accept()
        with pytest.raises(CartPromised):
            move_line(line=yard.day, starts_at=START, ends_at=START + 9 * DAY, by=yard.desk, at=AT)


@pytest.mark.django_db(transaction=True)
class TestRace:
    def test_two_desks_accept_at_once_and_one_of_them_is_told(self):
        for n in range(4):
            yard = Yard(n)
            given = at_once(yard.accept, partial(yard.accept, moves=yard.moves[::-1]))
            assert sorted(type(one).__name__ for one in given) == ["Accepted", "BookingOver"], given
            assert Line.objects.filter(cart=yard.large).count() == 2
        assert list(faults_in_journal()) == []

    def test_a_desk_sends_one_of_the_two_another_cart_that_very_moment(self):
        for n in range(4):
            yard = Yard(n)
            other = bare(f"OTHER-{n}", 12_000)
            send = partial(
                send_another, line=yard.day, cart=other, instead_of=yard.small, why="x", by=yard.desk, at=AT
            )
            given = at_once(yard.accept, send)
            names = sorted(type(one).__name__ for one in given)
            assert names in (["Accepted", "SentMeanwhile"], ["CannotMove", "Line"]), given
        assert list(faults_in_journal()) == []

    def test_a_caller_is_promised_the_freed_cart_that_very_moment(self):
        for n in range(4):
            yard = Yard(n)
            caller = BookingFactory(made_at=AT - DAY, starts_at=START + 4 * DAY)
            given = at_once(
                yard.accept, partial(promise_bookings, chosen={caller: yard.large}, by=yard.desk, at=AT)
            )
            names = sorted(type(one).__name__ for one in given)
            # The caller can't have it before the week's hire leaves it, nor once the booking has it.
            assert names == ["Accepted", "CannotPromise"], given
        assert list(faults_in_journal()) == []
