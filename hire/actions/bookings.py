"""Booking a hire whose cart is chosen later, and promising the carts once they are chosen."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart
from hire.actions.agreements import CustomerStopped, make_agreement, take_turns
from hire.actions.clashes import EndsBeforeItStarts, end_lapsed, end_pencil, standing_pencil
from hire.actions.job_plans import plans_go_with
from hire.actions.needs import needs_facts
from hire.actions.quotes import book_quote
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.customers import Customer
from hire.models.job_plans import JobPlan
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.wet_reading import wants_at
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class BookedTooLate(Refusal):
    """A hire that would be over already is not booked."""

    field = "ends_at"


class BookingOver(Refusal):
    """The booking has ended: it became a hire or was cancelled."""


class NothingChosen(Refusal):
    """No booking was ticked, or one that is not on record."""


class CannotPromise(Refusal):
    """A cart cannot be promised for its booking; the sentence names both and why. Nothing of the lot is promised."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk makes bookings and promises carts for them.")


@transaction.atomic
def make_booking(
    *,
    customer: Customer,
    place_of_work: str,
    order_number: str = "",
    leaves_by: str,
    works_on: str,
    pre_start_book: str = "ours",
    shifts_a_day: int = 1,
    is_night: bool = False,
    days_in_week: int | None = None,
    water: str = "any",
    litres: int = 0,
    gear: Collection[str] = (),
    drive_axles: int = 0,
    road_litres: int = 0,
    is_wet: bool = False,
    starts_at: datetime,
    ends_at: datetime,
    pencil: Pencil | None = None,
    plan: JobPlan | None = None,
    quote: Quote | None = None,
    by: Staff,
    at: datetime,
) -> Booking:
    """Book a hire by what its cart must be; it keeps no cart. gear: kinds of fleet.gear; litres and road_litres at least, and
    drive_axles, 0: any; is_night: its one shift is the night's; is_wet: with an operator of ours. pencil: a cart was kept for this
    very caller, and is no longer; its plans of the job go with the booking, and so does plan. quote: it comes of one, and so
    will the terms of its hire.

    NotAllowed; EndsBeforeItStarts; BookedTooLate; CustomerStopped; PencilOver; NotAsQuoted.
    """
    _check(by)
    if ends_at <= starts_at:
        raise EndsBeforeItStarts("The hire ends before it starts. Correct one of the two times.")
    if ends_at <= at:
        raise BookedTooLate("This hire would be over already. Correct the times.")
    if customer.is_stopped:
        raise CustomerStopped(f"{customer.name} is marked “no new hires”. Settle that with accounts first.")
    booking = Booking(
        customer=customer, place_of_work=place_of_work, order_number=order_number, leaves_by=leaves_by, works_on=works_on,
        pre_start_book=pre_start_book, shifts_a_day=shifts_a_day, is_night=is_night, days_in_week=days_in_week, water=water,
        litres=litres, gear=sorted(gear), drive_axles=drive_axles, road_litres=road_litres, is_wet=is_wet,
        period=DateTimeTZRange(starts_at, ends_at), made_at=at, made_by=by,
    )  # fmt: skip
    booking.save(force_insert=True)
    wanted = {
        **needs_facts(booking.needs),
        "water": water,
        "is_wet": is_wet,
        "shift": booking.shift,
    }
    wanted |= plans_go_with(booking, plan=plan, pencil=pencil, by=by, at=at)
    wanted |= {} if quote is None else book_quote(booking, quote, by=by, at=at)
    if pencil is not None:
        pencil = standing_pencil(pencil, at=at)
        end_pencil(pencil, how="booked", at=at)
        wanted["no_longer_pencilled"] = pencil.cart.fleet_number
    _write(Event.BOOKING_MADE, booking, pencil=pencil, by=by, at=at, **wanted)
    return booking


def _write(
    event: Event, booking: Booking, *, pencil: Pencil | None = None, by: Staff, at: datetime, **more: object
) -> None:
    """The entry of a booking in the yard's journal, and in that of the cart that was kept for it."""
    facts = {
        "customer": booking.customer.name,
        "place": booking.place_of_work,
        "starts_at": booking.period.lower,
        "ends_at": booking.period.upper,
    }
    write_journal(
        event=event, subject=("booking", booking.pk), chains=[*([cart_chain(pencil.cart_id)] if pencil else []), YARD],
        by=by, at=at, facts=facts | more,
    )  # fmt: skip


def _still_open(booking: Booking, *, at: datetime) -> Booking:
    if booking.ended_at is not None:
        how = (
            f"{booking.line.cart.fleet_number} is promised for it on {booking.line.agreement.number}"
            if booking.line
            else "it was cancelled"
        )
        raise BookingOver(f"The booking of {booking.words(at=at)}, is over: {how}.")
    return booking


def _locked(bookings: Collection[Booking]) -> list[Booking]:
    """In the order of their ids, so that two desks with the same bookings never wait for each other."""
    ids = [one.pk for one in bookings]
    list(Booking.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    # Read once they are locked: a hire that somebody else made of one while we waited is not in the locking query.
    rows = Booking.objects.filter(pk__in=ids).select_related("customer", "line__cart", "line__agreement")
    return list(rows.order_by("pk"))


@transaction.atomic
def cancel_booking(*, booking: Booking, why: str, by: Staff, at: datetime) -> Booking:
    """Cancel an open booking. NotAllowed; BookingOver."""
    _check(by)
    [booking] = _locked([booking])
    _still_open(booking, at=at)
    booking.ended_at, booking.ended_how, booking.cancelled_why = at, "cancelled", why
    booking.save(update_fields=["ended_at", "ended_how", "cancelled_why"])
    _write(Event.BOOKING_CANCELLED, booking, by=by, at=at, why=why)
    return booking


@transaction.atomic
def promise_bookings(*, chosen: Mapping[Booking, Cart], by: Staff, at: datetime) -> list[Line]:
    """Promise each booking its cart, each on a hire agreement of its own, earliest first: all of them or none.

    NotAllowed; NothingChosen; BookingOver; CannotPromise with what make_agreement refuses.
    """
    carts = locked_to_promise(chosen, by=by, at=at)
    take_cart_turns(carts, {}, by=by, at=at)
    return [promise_booking(booking, cart, by=by, at=at) for booking, cart in carts.items()]


def locked_to_promise(chosen: Mapping[Booking, Cart], *, by: Staff, at: datetime) -> dict[Booking, Cart]:
    """Part of another action: the bookings, locked and all open, the earliest first. NotAllowed; NothingChosen; BookingOver."""
    _check(by)
    if not chosen:
        raise NothingChosen("Nothing is ticked. Tick the bookings to promise carts for.")
    bookings = sorted(
        (_still_open(booking, at=at) for booking in _locked(chosen)),
        key=lambda one: (one.period.lower, one.pk),
    )
    return {booking: chosen[booking] for booking in bookings}


def take_cart_turns(
    carts: Mapping[Booking, Cart], moves: Mapping[Line, Cart], *, by: Staff, at: datetime
) -> None:
    """Everything the agreements will lock, all at once and in the order a single one takes it: the turn at numbers, the carts,
    their pencils, the journals. One after the other they would meet another desk's halfway, each waiting for the other. moves:
    hires, locked, that get another cart with them."""
    take_turns()
    ids = {cart.pk for cart in (*carts.values(), *moves.values())} | {line.cart_id for line in moves}
    for cart in Cart.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk"):
        end_lapsed(cart, at=at)
    write_journal(
        event=Event.BOOKINGS_PROMISED,
        subject=("booking", next(iter(carts)).pk),
        chains=[*(cart_chain(pk) for pk in ids), YARD],
        by=by,
        at=at,
        facts={
            "chosen": [
                {"booking": booking.pk, "customer": booking.customer.name, "cart": cart.fleet_number}
                for booking, cart in carts.items()
            ]
        }
        | ({"moved": [_moved(line, cart) for line, cart in moves.items()]} if moves else {}),
    )


def _moved(line: Line, cart: Cart) -> dict[str, object]:
    return {"agreement": line.agreement.number, "before": line.cart.fleet_number, "cart": cart.fleet_number}


def promise_booking(booking: Booking, cart: Cart, *, by: Staff, at: datetime) -> Line:
    """Part of another action, all of it locked: the booking becomes a hire with this cart. CannotPromise."""
    wants = wants_at(booking.customer, booking.place_of_work) if booking.is_wet else None
    try:
        line = make_agreement(
            customer=booking.customer, place_of_work=booking.place_of_work, order_number=booking.order_number,
            leaves_by=booking.leaves_by, works_on=booking.works_on, pre_start_book=booking.pre_start_book,
            shifts_a_day=booking.shifts_a_day, is_night=booking.is_night, days_in_week=booking.days_in_week,
            water=booking.water, cart=cart,
            starts_at=booking.period.lower, ends_at=booking.period.upper, wants=wants, needs=booking.needs,
            quote=Quote.objects.of_booking(booking), by=by, at=at,
        )  # fmt: skip
    except Refusal as refusal:
        raise CannotPromise(
            f"{cart.fleet_number} for {booking.words(at=at)}: {refusal.sentence}"
        ) from refusal
    booking.ended_at, booking.ended_how, booking.line = at, "promised", line
    booking.save(update_fields=["ended_at", "ended_how", "line"])
    return line
