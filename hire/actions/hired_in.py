"""A cart hired in: what its owner agreed to, the call that stops the owner's clock, and the cart back with its owner."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, time
from decimal import Decimal

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.actions.locks import check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.sentences import moment_words, past_words
from hire.actions.clashes import EndsBeforeItStarts
from hire.actions.owners import check_desk
from hire.charge_stop import charge_stops_at
from hire.models.agreements import Line
from hire.models.owners import HireIn, Owner
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.yard import yard_policy


class HireInOver(Refusal):
    """The hire from the owner is struck out, or the cart is back with its owner."""


class OwnerCalledOff(Refusal):
    """The owner was called off already."""


class OwnerNotCalledOff(Refusal):
    """The owner's clock still runs: there is no call to cancel, and no cart to give back."""


class OwnerClockRuns(Refusal):
    """The cart is hired in by an earlier row that nobody has called off."""

    field = "cart"


class NotThatMoment(Refusal):
    """The time is before the owner's period began, before the call, or has not come yet."""


class StillOnOurHire(Refusal):
    """The cart is out on a hire of ours; the sentence names it."""


@dataclass(frozen=True)
class OwnerTerms:
    """What was agreed with the owner. Prices before tax; None: the owner has no such rate."""

    day_price: Decimal
    week_price: Decimal | None = None
    four_weeks_price: Decimal | None = None
    minimum_days: int = 0
    cut_off: time = time(14)
    order_number: str = ""
    words: str = ""


def _period(starts_at: datetime, ends_at: datetime) -> DateTimeTZRange:
    if ends_at <= starts_at:
        raise EndsBeforeItStarts("The owner’s period ends before it starts. Correct one of the two times.")
    return DateTimeTZRange(starts_at, ends_at)


def _keep(hire_in: HireIn) -> None:
    check_fields(hire_in)
    with rules_of(HireIn):
        hire_in.save()


def _write(event: Event, hire_in: HireIn, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("hire_in", hire_in.pk),
        chains=[cart_chain(hire_in.cart_id), YARD],
        by=by,
        at=at,
        facts={"cart": hire_in.cart.fleet_number, "owner": hire_in.owner.name} | facts,
    )


def _agreed(hire_in: HireIn) -> dict[str, object]:
    terms = {name: getattr(hire_in, name) for name in OwnerTerms.__dataclass_fields__ if name != "cut_off"}
    span = {"starts_at": hire_in.period.lower, "ends_at": hire_in.period.upper}
    return span | terms | {"cut_off": f"{hire_in.cut_off:%H:%M}"}


@transaction.atomic
def hire_in_cart(
    *,
    owner: Owner,
    cart: Cart,
    starts_at: datetime,
    ends_at: datetime,
    terms: OwnerTerms,
    by: Staff,
    at: datetime,
) -> HireIn:
    """Mark a cart as hired in for a period, by its owner's terms. NotAllowed; EndsBeforeItStarts; OwnerClockRuns; AgainstARule for
    a cart hired in already then."""
    check_desk(by)
    cart = lock_cart(cart)
    if runs := HireIn.objects.standing().for_list().filter(cart=cart, called_at=None).first():
        raise OwnerClockRuns(
            f"{cart.fleet_number} is hired in from {runs.owner.name}, and that clock is not called off. Change its period, or call "
            "it off first."
        )
    hire_in = HireIn(
        owner=owner, cart=cart, period=_period(starts_at, ends_at), made_at=at, made_by=by, **asdict(terms)
    )  # fmt: skip
    _keep(hire_in)
    _write(Event.HIRED_IN, hire_in, by=by, at=at, **_agreed(hire_in))
    return hire_in


def _locked(hire_in: HireIn) -> HireIn:
    lock_cart(hire_in.cart)
    hire_in = HireIn.objects.select_for_update(of=("self",)).for_list().get(pk=hire_in.pk)
    cart, owner = hire_in.cart.fleet_number, hire_in.owner.name
    if hire_in.struck_at is not None:
        raise HireInOver(f"The hire of {cart} from {owner} is struck out. Hire it in again.")
    if hire_in.returned_at is not None:
        raise HireInOver(f"{cart} is back with {owner}. Hire it in again.")
    return hire_in


@transaction.atomic
def change_hire_in(
    *, hire_in: HireIn, starts_at: datetime, ends_at: datetime, terms: OwnerTerms, by: Staff, at: datetime
) -> HireIn:
    """Agree another period or other prices with the owner; the whole hire is charged by them. NotAllowed; HireInOver;
    EndsBeforeItStarts; AgainstARule; NotThatMoment for a start after the call."""
    check_desk(by)
    hire_in = _locked(hire_in)
    if hire_in.called_at is not None and starts_at > hire_in.called_at:
        raise NotThatMoment(
            f"{hire_in.owner.name} was called off {past_words(hire_in.called_at, at=at)}, before that.", field="starts_at"
        )  # fmt: skip
    before = _agreed(hire_in)
    hire_in.period = _period(starts_at, ends_at)
    for name, value in asdict(terms).items():
        setattr(hire_in, name, value)
    if hire_in.called_at is not None:
        hire_in.stops_at = _stops_at(hire_in, hire_in.called_at)
    _keep(hire_in)
    changed = {
        name: [before[name], value] for name, value in _agreed(hire_in).items() if before[name] != value
    }
    _write(Event.HIRE_IN_CHANGED, hire_in, by=by, at=at, **changed)
    return hire_in


def _stops_at(hire_in: HireIn, called_at: datetime) -> datetime:
    return charge_stops_at(called_at, cut_off=hire_in.cut_off, zone=yard_policy().zone)


@transaction.atomic
def call_off_owner(
    *, hire_in: HireIn, called_at: datetime, called_to_words: str, by: Staff, at: datetime
) -> HireIn:
    """Write down that the owner was called off: by the owner's own cut-off it stops what we are charged, whatever our customer
    said and when. NotAllowed; HireInOver; OwnerCalledOff; NotThatMoment."""
    check_desk(by)
    hire_in = _locked(hire_in)
    if hire_in.called_at is not None:
        raise OwnerCalledOff(
            f"{hire_in.owner.name} was called off already, {past_words(hire_in.called_at, at=at)}."
        )
    if called_at > at:
        raise NotThatMoment(f"That is still to come: {moment_words(called_at, at=at)}.", field="called_at")
    if called_at < hire_in.period.lower:
        raise NotThatMoment(
            f"The owner’s period began {moment_words(hire_in.period.lower, at=at)}. Give that time or a later one, or strike "
            "this hire out.", field="called_at",
        )  # fmt: skip
    hire_in.called_at, hire_in.called_by, hire_in.called_to_words = called_at, by, called_to_words
    hire_in.stops_at = _stops_at(hire_in, called_at)
    _keep(hire_in)
    _write(
        Event.OWNER_CALLED_OFF, hire_in, by=by, at=at, called_at=called_at, stops_at=hire_in.stops_at, called_to=called_to_words
    )  # fmt: skip
    return hire_in


def _called(hire_in: HireIn) -> HireIn:
    hire_in = _locked(hire_in)
    if hire_in.called_at is None:
        raise OwnerNotCalledOff(
            f"{hire_in.owner.name} has not been called off: the clock of {hire_in.cart.fleet_number} still runs. Call first."
        )
    return hire_in


@transaction.atomic
def cancel_owner_call(*, hire_in: HireIn, why: str, by: Staff, at: datetime) -> HireIn:
    """The call was a mistake: the owner's clock never stopped. NotAllowed; HireInOver; OwnerNotCalledOff."""
    check_desk(by)
    hire_in = _called(hire_in)
    facts = {"called_at": hire_in.called_at, "called_to": hire_in.called_to_words, "why": why}
    hire_in.called_at = hire_in.stops_at = hire_in.called_by = None
    hire_in.called_to_words = ""
    _keep(hire_in)
    _write(Event.OWNER_CALL_CANCELLED, hire_in, by=by, at=at, **facts)
    return hire_in


@transaction.atomic
def return_to_owner(*, hire_in: HireIn, returned_at: datetime, by: Staff, at: datetime) -> HireIn:
    """Record the cart back with its owner; it may go on no hire until it is hired in again. NotAllowed; HireInOver;
    OwnerNotCalledOff; StillOnOurHire; NotThatMoment."""
    check_desk(by)
    hire_in = _called(hire_in)
    if out := Line.objects.out_now().filter(cart=hire_in.cart).for_list().first():
        raise StillOnOurHire(
            f"{hire_in.cart.fleet_number} is out on {out.agreement.number} for {out.agreement.customer.name}. Record it back "
            "first."
        )
    if returned_at > at or returned_at < hire_in.period.lower:
        raise NotThatMoment(
            "Give a time that has passed, after the owner’s period began.", field="returned_at"
        )
    hire_in.returned_at = returned_at
    _keep(hire_in)
    _write(Event.BACK_WITH_OWNER, hire_in, by=by, at=at, returned_at=returned_at)
    return hire_in


@transaction.atomic
def strike_hire_in(*, hire_in: HireIn, why: str, by: Staff, at: datetime) -> HireIn:
    """Strike out what was written down wrongly; it costs nothing and marks no cart. NotAllowed; HireInOver."""
    check_desk(by)
    hire_in = _locked(hire_in)
    hire_in.struck_at, hire_in.struck_why = at, why
    _keep(hire_in)
    _write(Event.HIRE_IN_STRUCK, hire_in, by=by, at=at, why=why)
    return hire_in
