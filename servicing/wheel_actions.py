"""Wheels off and on: a tyre changed in one act, and the nuts checked again in two steps."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.actions.wheels import NoSuchPosition, TyreDetails, fit_tyre, take_off_tyre
from fleet.models.carts import Cart, Meter
from fleet.models.wheels import TyreFitting, WheelPosition
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import Refusal
from people.roles import WORKSHOP
from people.say import say
from people.yard import yard_policy
from servicing.models.wheels import Retorque
from servicing.odometer import odometers
from servicing.retorque import SETTLE

# People write down what they did a moment ago and round the minute up.
MINUTE = timedelta(minutes=1)
TYPED_AS = {
    f"{step}_{column}": typed
    for step in ("first", "second")
    for column, typed in (
        ("nm", "setting_nm"),
        ("nuts", "nuts"),
        ("wrench", "wrench"),
        ("by_words", "by_words"),
    )
}
RECORDED_BY = "Wheel work is recorded by a fitter or a manager."


class NoTyreThere(Refusal):
    """There is no tyre on record in that position to be changed."""

    field = "changed_at"


class NotSettledYet(Refusal):
    """The first check comes once the wheel has stood."""

    field = "done_at"


class CheckedAlready(Refusal):
    """That check is done, or the wheel was off again since."""


class FirstCheckFirst(Refusal):
    """The check on the road does not stand for the one in the yard."""


def _open_retorque(
    cart: Cart,
    position: WheelPosition,
    fitting: TyreFitting | None,
    *,
    why: str,
    fitted_at: datetime,
    by: Staff,
    at: datetime,
) -> Retorque:
    """One open row a hub: the wheel was off again, so an older one is replaced by this."""
    Retorque.objects.filter(
        cart=cart, axle=position.axle, side=position.side, second_at=None, replaced_at=None
    ).update(replaced_at=at)
    odometer = odometers([cart.pk]).get(cart.pk)
    km = odometer.at(fitted_at) if odometer else None
    task = Retorque(
        cart=cart,
        wheel_position=position,
        axle=position.axle,
        side=position.side,
        fitting=fitting,
        why=say(why.strip(), most=160),
        rule_set=yard_policy().rule_set,
        fitted_at=fitted_at,
        km_at_fitting=None if km is None else max(Decimal(str(round(km, 1))), Decimal(0)),
        opened_by=by,
    )
    check_fields(task)
    with rules_of(Retorque):
        task.save(force_insert=True)
    write_journal(
        event=Event.RETORQUE_OPENED,
        subject=("retorque", task.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"hub": task.hub_words, "why": task.why, "fitted_at": fitted_at, "km": task.km_at_fitting},
    )
    return task


def wheel_fitted(fitting: TyreFitting, by: Staff, at: datetime) -> Retorque:
    """What follows in the workshop when a tyre has just gone on: its nuts are to be checked again, and the cart's tyres are
    forecast anew. Part of the action that fitted it, its cart locked."""
    position = fitting.wheel_position
    enqueue(kind="servicing.tyres_changed", subject_id=position.cart_id, at=at)
    return _open_retorque(
        position.cart,
        position,
        fitting,
        why=f"Tyre {fitting.tyre.serial} fitted at {position.words}",
        fitted_at=fitting.period.lower,
        by=by,
        at=at,
    )


@transaction.atomic
def change_tyre(
    *,
    fitting: TyreFitting,
    details: TyreDetails,
    changed_at: datetime,
    depth_mm: Decimal | None = None,
    words: str = "",
    by: Staff,
    at: datetime,
) -> TyreFitting:
    """Take a tyre off and put another in its place in one act; the check of its nuts opens with it. Gives the new fitting.

    NotAllowed, NoTyreThere when it came off already; else as take_off_tyre and fit_tyre refuse, with nothing changed.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    position = fitting.wheel_position
    cart = lock_cart(position.cart)
    fitting = TyreFitting.objects.select_related("tyre", "wheel_position__cart").get(pk=fitting.pk)
    if fitting.period.upper is not None:
        raise NoTyreThere(
            f"Tyre {fitting.tyre.serial} came off {position.words} of cart {cart.fleet_number} already. "
            "Open the cart’s page and change the tyre that is there now."
        )
    if details.serial.upper().split() == fitting.tyre.serial.split():
        raise AgainstARule(
            f"Tyre {fitting.tyre.serial} is the one that comes off. For the same wheel off and on, record that instead.",
            field="serial",
        )
    try:
        take_off_tyre(fitting=fitting, taken_off_at=changed_at, words=words, by=by, at=at)
    except Refusal as no:
        raise type(no)(no.sentence, field="changed_at" if no.field == "taken_off_at" else no.field) from no
    return fit_tyre(
        cart=cart,
        position_code=position.code,
        details=details,
        fitted_at=changed_at,
        depth_mm=depth_mm,
        is_fresh=True,
        by=by,
        at=at,
    )


@transaction.atomic
def wheel_refitted(
    *, cart: Cart, position_code: str, refitted_at: datetime, why: str, by: Staff, at: datetime
) -> Retorque:
    """Record a wheel as off and on again with the same tyre, for a brake job or a repair: its nuts are to be checked again.

    NotAllowed, NoSuchPosition; AgainstARule for a time to come, or nothing said.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    if not why.strip():
        raise AgainstARule("Say what the wheel was off for.", field="why")
    if refitted_at > at + MINUTE:
        raise AgainstARule(
            "A wheel is recorded once it is on again: give a time that has passed.", field="refitted_at"
        )
    cart = lock_cart(cart)
    position = WheelPosition.objects.filter(cart=cart, code=position_code).first()
    if position is None:
        raise NoSuchPosition(
            f"Cart {cart.fleet_number} has no wheel position {position_code}.", field="position_code"
        )
    there = position.fittings.filter(period__contains=refitted_at).first()
    return _open_retorque(cart, position, there, why=why, fitted_at=refitted_at, by=by, at=at)


def _locked(task: Retorque) -> Retorque:
    lock_cart(task.cart)
    return (
        Retorque.objects.select_for_update(of=("self",)).select_related("cart", "wheel_position").get(pk=task.pk)
    )  # fmt: skip


def _where(task: Retorque) -> str:
    return f"{task.hub_words} of cart {task.cart.fleet_number}"


def _save(task: Retorque, event: Event, facts: dict[str, object], *, by: Staff, at: datetime) -> Retorque:
    try:
        check_fields(task)
    except AgainstARule as no:
        raise AgainstARule(no.sentence, field=TYPED_AS.get(no.field or "", no.field)) from no
    with rules_of(Retorque):
        task.save()
    write_journal(
        event=event, subject=("retorque", task.pk), chains=[cart_chain(task.cart_id)], by=by, at=at,
        facts={"hub": task.hub_words} | facts,
    )  # fmt: skip
    return task


@transaction.atomic
def check_first(
    *,
    task: Retorque,
    done_at: datetime,
    wrench: str,
    setting_nm: int,
    nuts: int,
    second_for: str,
    shift_ends_at: datetime,
    by: Staff,
    at: datetime,
) -> Retorque:
    """Record the check after standing, done by the person signed in; it clears the gate. second_for: the person, by name, who
    checks after the first km; shift_ends_at: the end of the first shift, by which it is due at the latest.

    NotAllowed, CheckedAlready, NotSettledYet before 30 minutes are over (WN-01); AgainstARule for a time to come, or a torque or
    number of nuts no wheel has.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    task = _locked(task)
    if task.first_at is not None or not task.is_open:
        raise CheckedAlready(f"The first check at {_where(task)} is done, or the wheel was off again since.")
    if done_at > at + MINUTE:
        raise AgainstARule(
            "A check is recorded once it is done: give a time that has passed.", field="done_at"
        )
    if done_at < task.fitted_at + SETTLE:
        raise NotSettledYet(
            f"The wheel at {_where(task)} has to stand for 30 minutes first. Check the nuts after that, then record it."
        )
    if shift_ends_at <= done_at:
        raise AgainstARule("The first shift ends after this check.", field="shift_ends_at")
    task.first_at, task.first_by, task.first_by_words = done_at, by, by.full_name
    task.first_wrench, task.first_nm, task.first_nuts = wrench.strip(), setting_nm, nuts
    task.second_for, task.shift_ends_at = second_for.strip(), shift_ends_at
    facts = {
        "done_at": done_at,
        "wrench": task.first_wrench,
        "setting_nm": setting_nm,
        "nuts": nuts,
        "second_for": task.second_for,
    }
    return _save(task, Event.RETORQUE_FIRST, facts, by=by, at=at)


@transaction.atomic
def check_second(
    *,
    task: Retorque,
    done_at: datetime,
    by_words: str,
    wrench: str,
    setting_nm: int,
    nuts: int,
    km: Decimal | None = None,
    by: Staff,
    at: datetime,
) -> Retorque:
    """Record the check after the first km, done by whoever is named, on site or in the yard. km: the odometer then, None: not
    read.

    NotAllowed, CheckedAlready, FirstCheckFirst; AgainstARule for a time to come or before the first check, km under those at
    fitting, or a torque or number of nuts no wheel has.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    task = _locked(task)
    if not task.is_open:
        raise CheckedAlready(f"The second check at {_where(task)} is done, or the wheel was off again since.")
    if task.first_at is None:
        raise FirstCheckFirst(
            f"The first check at {_where(task)} is not recorded yet. Record that one first."
        )
    if done_at > at + MINUTE or done_at <= task.first_at:
        raise AgainstARule(
            "The second check comes after the first and has been done: give such a time.", field="done_at"
        )
    has_meter = Meter.objects.filter(cart=task.cart_id, kind="km", fitted_at__gt=task.fitted_at).exists()
    if km is not None and task.km_at_fitting is not None and km < task.km_at_fitting and not has_meter:
        raise AgainstARule(
            f"The odometer showed {task.km_at_fitting} km when the wheel was fitted. Read it again.",
            field="km",
        )
    task.second_at, task.second_by_words, task.second_told_to = done_at, by_words.strip(), by
    task.second_wrench, task.second_nm, task.second_nuts, task.second_km = (
        wrench.strip(),
        setting_nm,
        nuts,
        km,
    )
    facts = {"done_at": done_at, "by_words": task.second_by_words, "wrench": task.second_wrench, "setting_nm": setting_nm,
             "nuts": nuts, "km": km}  # fmt: skip
    return _save(task, Event.RETORQUE_SECOND, facts, by=by, at=at)
