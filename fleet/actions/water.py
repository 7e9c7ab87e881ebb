"""The water a cart's tank carried and how it was sanitised: written down once, tested, and struck out where it was wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import TypeVar

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.models.water import Sanitising, WaterCarried
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import MANAGERS, WALKERS
from people.yard import yard_day

RECORDS = "What a tank carries is recorded by a yard hand, a fitter or a manager."
STRIKES = "What is on record of a tank is struck out by the workshop manager or the fleet manager."


class NotYet(Refusal):
    """The moment is still to come."""


class BeforeTheCart(Refusal):
    """The moment lies before the cart was built."""


class OnRecordAlready(Refusal):
    """Something else is on record of this tank for that time."""


class AlreadyTested(Refusal):
    """The test of this sanitising is on record."""


class SampledBefore(Refusal):
    """The sample was taken before the tank was sanitised."""

    field = "tested_at"


class StruckOutAlready(Refusal):
    """Somebody struck it out already."""


@dataclass(frozen=True)
class SanitisingDetails:
    """How a tank was cleaned and disinfected. dose_mg_l: None where nothing was dosed; residual_mg_l: None where not measured."""

    done_at: datetime
    how: str
    product: str
    dose_mg_l: Decimal | None
    minutes: int
    rinse: str
    residual_mg_l: Decimal | None
    by_words: str


def _moment(moment: datetime, cart: Cart, *, field: str, what: str, at: datetime) -> None:
    if moment > at:
        raise NotYet(
            f"This {what} of cart {cart.fleet_number} has not happened yet. Give the time it was done.",
            field=field,
        )
    if yard_day(moment).year < cart.build_year:
        raise BeforeTheCart(
            f"Cart {cart.fleet_number} was built in {cart.build_year}. Correct the time of the {what}.",
            field=field,
        )


@transaction.atomic
def record_water(
    *,
    cart: Cart,
    source: str,
    filled_at: datetime,
    place_words: str,
    permit_words: str = "",
    by: Staff,
    at: datetime,
) -> WaterCarried:
    """Record what a tank was filled with. A fill remembered late is taken too: it counts by its own time.

    source: a word of fleet.water.history. The same again returns the first. NotAllowed; NotYet; BeforeTheCart;
    OnRecordAlready when another fill has that time; AgainstARule for an unknown source or no place.
    """
    ask_role(by, WALKERS, RECORDS)
    cart = lock_cart(cart)
    _moment(filled_at, cart, field="filled_at", what="fill", at=at)
    said = {"source": source, "place_words": place_words.strip(), "permit_words": permit_words.strip()}
    kept = cart.water_carried.filter(filled_at=filled_at, struck_at=None).first()
    if kept is not None:
        if all(getattr(kept, name) == value for name, value in said.items()):
            return kept
        raise OnRecordAlready(
            f"{kept} is on record on cart {cart.fleet_number} for that time. Give another time, or have that struck out.",
            field="filled_at",
        )
    row = WaterCarried(cart=cart, filled_at=filled_at, recorded_at=at, recorded_by=by, **said)
    check_fields(row)
    with rules_of(WaterCarried):
        row.save(force_insert=True)
    _write(Event.WATER_CARRIED, row, by=by, at=at, facts=said | {"filled_at": filled_at})
    return row


@transaction.atomic
def record_sanitising(*, cart: Cart, details: SanitisingDetails, by: Staff, at: datetime) -> Sanitising:
    """Record a tank as cleaned and disinfected; its test follows by record_test.

    The same again returns the first. NotAllowed; NotYet; BeforeTheCart; OnRecordAlready; AgainstARule for a missing word or a
    figure that cannot be.
    """
    ask_role(by, WALKERS, RECORDS)
    cart = lock_cart(cart)
    _moment(details.done_at, cart, field="done_at", what="sanitising", at=at)
    said = {
        name: value.strip() if isinstance(value, str) else value for name, value in asdict(details).items()
    }
    kept = cart.sanitisings.filter(done_at=details.done_at, struck_at=None).first()
    if kept is not None:
        if all(getattr(kept, name) == value for name, value in said.items()):
            return kept
        raise OnRecordAlready(
            f"Cart {cart.fleet_number} was {kept} at that time. Give another time, or have that struck out.",
            field="done_at",
        )
    row = Sanitising(cart=cart, recorded_at=at, recorded_by=by, **said)
    check_fields(row)
    with rules_of(Sanitising):
        row.save(force_insert=True)
    _write(Event.TANK_SANITISED, row, by=by, at=at, facts=said)
    return row


@transaction.atomic
def record_test(
    *,
    sanitising: Sanitising,
    tested_at: datetime,
    test_passed: bool,
    test_words: str,
    by: Staff,
    at: datetime,
) -> Sanitising:
    """Record the test of the water a sanitised tank held, once. tested_at: when the sample was taken.

    NotAllowed; NotYet; StruckOutAlready; AlreadyTested; SampledBefore; AgainstARule when nothing is said of it.
    """
    ask_role(by, WALKERS, RECORDS)
    cart, row = _locked(sanitising)
    if row.tested_at is not None:
        raise AlreadyTested(
            f"The test of this sanitising of cart {cart.fleet_number} is on record. Record a new sanitising for another test."
        )
    _moment(tested_at, cart, field="tested_at", what="sample", at=at)
    if tested_at < row.done_at:
        raise SampledBefore(
            f"Cart {cart.fleet_number} was sanitised after that. The sample is of water filled in since."
        )
    if not test_words.strip():
        raise AgainstARule("Say what was tested and found, and by whom.", field="test_words")
    said = {"tested_at": tested_at, "test_passed": test_passed, "test_words": test_words.strip()}
    _change(row, **said, test_recorded_by=by)
    _write(Event.TANK_TESTED, row, by=by, at=at, facts=said | {"done_at": row.done_at})
    return row


@transaction.atomic
def strike_water(*, row: WaterCarried, words: str, by: Staff, at: datetime) -> WaterCarried:
    """Strike out a fill written down wrongly; it stays on record and counts for nothing.

    NotAllowed; StruckOutAlready; AgainstARule without words.
    """
    row = _strike(row, words, by=by, at=at)
    facts = {"source": row.source, "filled_at": row.filled_at, "words": row.struck_words}
    _write(Event.WATER_STRUCK, row, by=by, at=at, facts=facts)
    return row


@transaction.atomic
def strike_sanitising(*, row: Sanitising, words: str, by: Staff, at: datetime) -> Sanitising:
    """Strike out a sanitising written down wrongly, its test with it. Refused as strike_water."""
    row = _strike(row, words, by=by, at=at)
    facts = {"done_at": row.done_at, "words": row.struck_words}
    _write(Event.SANITISING_STRUCK, row, by=by, at=at, facts=facts)
    return row


AboutTank = TypeVar("AboutTank", WaterCarried, Sanitising)


def _strike(row: AboutTank, words: str, *, by: Staff, at: datetime) -> AboutTank:
    ask_role(by, MANAGERS, STRIKES)
    _, row = _locked(row)
    if not words.strip():
        raise AgainstARule("Write what was wrong with it: the record keeps both.", field="words")
    _change(row, struck_at=at, struck_by=by, struck_words=words.strip())
    return row


def _locked(row: AboutTank) -> tuple[Cart, AboutTank]:
    """The cart, then the row, as they stand; StruckOutAlready where the row counts no more."""
    cart = lock_cart(row.cart)
    row = type(row).objects.select_for_update(of=("self",)).get(pk=row.pk)
    if row.struck_at is not None:
        raise StruckOutAlready(f"This line of cart {cart.fleet_number} was struck out already.")
    return cart, row


def _change(row: AboutTank, **values: object) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    check_fields(row)
    with rules_of(type(row)):
        row.save(update_fields=list(values))


def _write(
    event: Event, row: WaterCarried | Sanitising, *, by: Staff, at: datetime, facts: Mapping[str, object]
) -> None:
    kind = "water_carried" if isinstance(row, WaterCarried) else "sanitising"
    write_journal(
        event=event,
        subject=(kind, row.pk),
        chains=[cart_chain(row.cart_id)],
        by=by,
        at=at,
        facts=facts,
    )
