"""Which tyre is where, and since when."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from psycopg.types.range import Range

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.actions.readings import derive_tread
from fleet.models.carts import Cart
from fleet.models.wheels import TreadReading, Tyre, TyreFitting, WheelPosition
from fleet.wheel_work import wheel_was_fitted
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import WORKSHOP

# People write down what they did a moment ago and round the minute up.
MINUTE = timedelta(minutes=1)


class NoSuchPosition(Refusal):
    """The cart has no wheel position with that code."""


class TyreElsewhere(Refusal):
    """The tyre is on record in another position."""


class PositionTaken(Refusal):
    """Another tyre is on record in that position."""


class AlreadyOff(Refusal):
    """The tyre came off already."""


@dataclass(frozen=True)
class TyreDetails:
    """A tyre by its wall. `made_on`: the week mark as a day, or None where it could not be read. `cost`: what was paid for it,
    without tax; None: not known."""

    serial: str
    make: str
    size: str
    new_depth_mm: Decimal
    load_index: str = ""
    made_on: date | None = None
    cost: Decimal | None = None


def _tyre(details: TyreDetails) -> Tyre:
    """The tyre with that serial, kept as it was first written down; new ones are added."""
    serial = " ".join(details.serial.upper().split())
    known = Tyre.objects.filter(serial=serial).first()
    if known is not None:
        return known
    tyre = Tyre(**asdict(details) | {"serial": serial})
    check_fields(tyre)
    with rules_of(Tyre):
        tyre.save(force_insert=True)
    return tyre


def _check_place(cart: Cart, position: WheelPosition, tyre: Tyre) -> None:
    there = position.fittings.filter(period__upper_inf=True).select_related("tyre").first()
    if there is not None:
        raise PositionTaken(
            f"Tyre {there.tyre.serial} is at {position.words} of cart {cart.fleet_number}. Take it off first.",
            field="position_code",
        )
    other = tyre.fittings.filter(period__upper_inf=True).select_related("wheel_position__cart").first()
    if other is not None:
        raise TyreElsewhere(
            f"Tyre {tyre.serial} is on record at {other.wheel_position.words} of cart "
            f"{other.wheel_position.cart.fleet_number}. Take it off there first, or read the serial again.",
            field="serial",
        )


def _first_depth(fitting: TyreFitting, depth_mm: Decimal, *, read_at: datetime) -> None:
    position = fitting.wheel_position
    source = ("tyre_fitting", fitting.pk)
    reading = derive_tread(
        cart=position.cart, position_code=position.code, depth_mm=depth_mm, read_at=read_at, source=source
    )
    if not isinstance(reading, TreadReading):
        raise AgainstARule(reading.question, field="depth_mm")


@transaction.atomic
def fit_tyre(
    *,
    cart: Cart,
    position_code: str,
    details: TyreDetails,
    fitted_at: datetime,
    depth_mm: Decimal | None = None,
    is_fresh: bool = False,
    by: Staff,
    at: datetime,
) -> TyreFitting:
    """Record a tyre as fitted in a position, with the depth measured at fitting where there is one. is_fresh: the wheel has
    just been off, and what follows from that is done with it; False: it was on the cart already, only the record is new.

    A serial already known is that tyre, whatever else is typed. NotAllowed, NoSuchPosition, PositionTaken,
    TyreElsewhere; AgainstARule for a time to come, a depth over the new one, or two fittings that overlap.
    """
    ask_role(by, WORKSHOP, "Tyres are recorded by a fitter or a manager.")
    if fitted_at > at + MINUTE:
        raise AgainstARule(
            "A tyre is recorded once it is fitted: give a time that has passed.", field="fitted_at"
        )
    cart = lock_cart(cart)
    position = WheelPosition.objects.filter(cart=cart, code=position_code).first()
    if position is None:
        raise NoSuchPosition(
            f"Cart {cart.fleet_number} has no wheel position {position_code}.", field="position_code"
        )
    tyre = _tyre(details)
    _check_place(cart, position, tyre)
    fitting = TyreFitting(tyre=tyre, wheel_position=position, period=Range(fitted_at, None, "[)"))
    with rules_of(TyreFitting):
        fitting.save(force_insert=True)
    if depth_mm is not None:
        _first_depth(fitting, depth_mm, read_at=fitted_at)
    if is_fresh:
        wheel_was_fitted(fitting, by=by, at=at)
    write_journal(
        event=Event.TYRE_FITTED,
        subject=("tyre_fitting", fitting.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "serial": tyre.serial,
            "position": position_code,
            "fitted_at": fitted_at,
            "depth_mm": depth_mm,
            "new_depth_mm": tyre.new_depth_mm,
        },
    )
    return fitting


@transaction.atomic
def take_off_tyre(
    *, fitting: TyreFitting, taken_off_at: datetime, words: str = "", by: Staff, at: datetime
) -> TyreFitting:
    """Record a tyre as taken off. NotAllowed, AlreadyOff; AgainstARule for a time before it was fitted, before its last
    reading, or to come."""
    ask_role(by, WORKSHOP, "Tyres are recorded by a fitter or a manager.")
    cart = lock_cart(fitting.wheel_position.cart)
    fitting = (
        TyreFitting.objects.select_for_update(of=("self",))
        .select_related("tyre", "wheel_position")
        .get(pk=fitting.pk)
    )
    where = f"{fitting.wheel_position.words} of cart {cart.fleet_number}"
    if fitting.period.upper is not None:
        raise AlreadyOff(f"Tyre {fitting.tyre.serial} came off {where} already.")
    last = fitting.tread_readings.order_by("-read_at").first()
    if taken_off_at <= fitting.period.lower or (last is not None and taken_off_at < last.read_at):
        raise AgainstARule(
            f"Tyre {fitting.tyre.serial} was still at {where} then. Give a later time.", field="taken_off_at"
        )
    if taken_off_at > at + MINUTE:
        raise AgainstARule(
            "A tyre comes off the records once it is off: give a time that has passed.", field="taken_off_at"
        )
    fitting.period = Range(fitting.period.lower, taken_off_at, "[)")
    with rules_of(TyreFitting):
        fitting.save(update_fields=["period"])
    write_journal(
        event=Event.TYRE_TAKEN_OFF,
        subject=("tyre_fitting", fitting.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "serial": fitting.tyre.serial,
            "position": fitting.wheel_position.code,
            "taken_off_at": taken_off_at,
            "words": words.strip(),
        },
    )
    return fitting
