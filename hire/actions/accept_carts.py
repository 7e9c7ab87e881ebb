"""Accepting the carts proposed: bookings get theirs, and hires already promised one get another, all of it or nothing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, connection, transaction

from fleet.gear import GEAR
from fleet.models.carts import Cart
from hire import suiting
from hire.actions.another_cart import check_line, send_another
from hire.actions.bookings import (
    CannotPromise,
    locked_to_promise,
    promise_booking,
    promise_bookings,
    take_cart_turns,
)
from hire.availability import builds, with_road_fill
from hire.booking_wanted import Wanted, why_they_stay
from hire.models.agreements import Line
from hire.models.bookings import Booking
from people.models import Staff
from people.refusals import Refusal

ONE_PROMISE = "hire_line_one_promise_a_cart"


class CannotMove(Refusal):
    """A hire keeps its cart; the sentence says which and why. Nothing of the lot is changed."""


class MovedForNothing(Refusal):
    """Nobody of the lot would have the cart a hire is taken off."""


@dataclass(frozen=True)
class Moving:
    """A hire that is to have another cart; instead_of: the one it was looked at with."""

    line: Line
    cart: Cart
    instead_of: Cart


@dataclass(frozen=True)
class Accepted:
    """promised: the hires that the bookings became. moved: those with another cart now."""

    promised: tuple[Line, ...]
    moved: tuple[Line, ...] = ()


@transaction.atomic
def accept_carts(
    *, chosen: Mapping[Booking, Cart], moves: Collection[Moving] = (), by: Staff, at: datetime
) -> Accepted:
    """Give promised hires other carts and promise bookings theirs, in one transaction: all of them or none. Two hires may exchange
    their carts.

    NotAllowed; NothingChosen; BookingOver; MovedForNothing; CannotMove with what send_another refuses, or why the hire keeps its
    cart; CannotPromise with what make_agreement refuses.
    """
    if not moves:
        return Accepted(tuple(promise_bookings(chosen=chosen, by=by, at=at)))
    carts = locked_to_promise(chosen, by=by, at=at)
    moving = _locked(moves)
    whys = {one.line: _for_whom(one, moving, carts) for one in moving}
    take_cart_turns(carts, {one.line: one.cart for one in moving}, by=by, at=at)
    _check(moving, at=at)
    moved = _move(moving, whys, by=by, at=at)
    return Accepted(
        tuple(promise_booking(booking, cart, by=by, at=at) for booking, cart in carts.items()), moved
    )


def _locked(moves: Collection[Moving]) -> list[Moving]:
    """In the order of their ids, and read once they are locked. CannotMove where one left, was cancelled or has another cart."""
    by_id = {one.line.pk: one for one in moves}
    rows = Line.objects.filter(pk__in=by_id).order_by("pk")
    list(rows.select_for_update())
    found = [Moving(line, by_id[line.pk].cart, by_id[line.pk].instead_of) for line in rows.for_list()]
    for one in found:
        try:
            check_line(one.line, one.instead_of)
        except Refusal as refusal:
            raise _cannot(one, refusal.sentence) from refusal
    return found


def _cannot(one: Moving, why: str) -> CannotMove:
    who = f"{one.line.agreement.number} for {one.line.agreement.customer.name}"
    return CannotMove(f"{one.cart.fleet_number} instead of {one.instead_of.fleet_number} on {who}: {why}")


def _for_whom(one: Moving, moving: Sequence[Moving], carts: Mapping[Booking, Cart]) -> str:
    """Who has the cart that a hire is taken off, for the journal. MovedForNothing."""
    left = one.instead_of
    who = [f"the booking of {booking}" for booking, cart in carts.items() if cart == left]
    who += [other.line.agreement.number for other in moving if other.cart == left]
    if not who:
        raise MovedForNothing(
            f"{one.line.agreement.number} would be taken off {left.fleet_number} for nobody. Tick the booking it makes room for, "
            "or leave the hire as it is."
        )
    return f"{left.fleet_number} is free so for {' and '.join(who)}"


def _check(moving: Sequence[Moving], *, at: datetime) -> None:
    """CannotMove where a hire keeps its cart, or its new one has not all that was asked."""
    keep = why_they_stay([one.line for one in moving], at=at)
    carts = list({cart.pk: cart for one in moving for cart in (one.cart, one.line.cart)}.values())
    kinds = builds(carts)
    kinds |= with_road_fill(kinds, carts, at=at) if any(one.line.road_litres for one in moving) else {}
    for one in moving:
        if why := keep.get(one.line.pk):
            raise _cannot(one, f"the hire {why}. It keeps its cart.")
        asked = Wanted.promised(one.line, kinds[one.line.cart_id]).enquiry
        if lacks := suiting.lacks(asked, kinds[one.cart.pk], names=GEAR):
            what = "; ".join(lack.what for lack in lacks)
            raise _cannot(one, f"it has not what is asked: {what}. Look at the page again.")


def _move(moving: Sequence[Moving], whys: Mapping[Line, str], *, by: Staff, at: datetime) -> tuple[Line, ...]:
    """One after the other, the look at overlaps put off until all have their cart: two that exchange theirs overlap in between."""
    moved: list[Line] = []
    _look_at_overlaps("DEFERRED")
    for n, one in enumerate(moving):
        still = [other.line.pk for other in moving[n + 1 :]]
        try:
            sent = send_another(
                line=one.line, cart=one.cart, instead_of=one.instead_of, why=whys[one.line], beside=still, by=by, at=at
            )  # fmt: skip
        except Refusal as refusal:
            raise _cannot(one, refusal.sentence) from refusal
        moved.append(sent)
    try:
        _look_at_overlaps("IMMEDIATE")
    except IntegrityError as error:
        raise CannotPromise(
            "One of these carts was promised to another hire this very moment. Look at the page again."
        ) from error
    return tuple(moved)


def _look_at_overlaps(when: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"SET CONSTRAINTS {ONE_PROMISE} {when}")
