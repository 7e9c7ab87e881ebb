"""A pass given by phone: entered by whoever is at the screen, answered for and confirmed by the manager who spoke it."""

from __future__ import annotations

from datetime import datetime
from typing import Unpack

from django.db import transaction

from fleet.actions.locks import ask_role, lock_cart
from fleet.actions.passes import Spoken, Terms, found_now, pass_facts, turn_of, write_pass
from fleet.models.carts import Cart
from fleet.models.standing import Pass
from fleet.needs import next_need
from fleet.passing import confirm_by, spoken_fault
from fleet.readiness import Record, Window
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import AT_THE_GATE, MANAGERS
from people.yard import yard_policy


class SpokenForOneself(Refusal):
    """Whoever may pass it and is at the screen signs it; they do not enter it as spoken by themselves."""

    field = "given_by"


class NotSpokenThen(Refusal):
    """It cannot have been spoken at that time."""

    field = "spoken_at"


class NotSpoken(Refusal):
    """The pass was signed by its giver: there is no word by phone to answer for."""


class NotTheirWord(NotAllowed):
    """Somebody else than the manager named wants to answer for what was said."""


class AnsweredAlready(Refusal):
    """The manager named has confirmed or disowned the pass before."""


@transaction.atomic
def enter_spoken_pass(
    *,
    cart: Cart,
    code: str,
    record: Record,
    given_by: Staff,
    spoken_at: datetime,
    window: Window | None = None,
    by: Staff,
    at: datetime,
    **terms: Unpack[Terms],
) -> Pass:
    """Enter a pass that a manager gave by phone at `spoken_at`. It counts at once, from `at`; after the yard's hours
    (`spoken_pass_for`, counted from when it was spoken) only if its manager has confirmed it.

    given_by: who answers for it, one whose role may pass this; by: who enters it, another person.
    NotAllowed, SpokenForOneself, NotSpokenThen; else as give_pass.
    """
    cart = lock_cart(cart)
    ask_role(by, AT_THE_GATE, "A pass by phone is entered by the hire desk, a yard hand or a manager.")
    if given_by == by:
        raise SpokenForOneself("You are here yourself: sign the pass in your own name.")
    blocker = found_now(cart, code, record, window=window, at=at)
    turn = turn_of(cart, blocker, given_by, field="given_by")
    good_for = yard_policy().spoken_pass_for
    if fault := spoken_fault(spoken_at, found_at=blocker.found_at, good_for=good_for, at=at):
        raise NotSpokenThen(fault)
    spoken = Spoken(by, spoken_at, confirm_by(spoken_at, good_for=good_for))
    given = write_pass(
        cart=cart, blocker=blocker, turn=turn, terms=terms, giver=given_by, spoken=spoken, at=at
    )
    _journal(
        given,
        Event.PASS_SPOKEN,
        by=by,
        at=at,
        **pass_facts(given),
        given_by=given_by.full_name,
        spoken_at=spoken_at,
        confirm_by_at=spoken.confirm_by_at,
    )
    return given


def _journal(given: Pass, event: Event, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("pass", given.pk),
        chains=[cart_chain(given.cart_id)],
        by=by,
        at=at,
        facts=facts,
    )


def _to_answer(given: Pass, *, by: Staff) -> Pass:
    """The pass, its cart and itself locked, once it is this person's to answer for and not answered before."""
    ask_role(by, MANAGERS, "A pass by phone is confirmed by the manager who gave it.")
    cart = lock_cart(given.cart)
    given = Pass.objects.select_for_update(of=("self",)).select_related("given_by", "cart").get(pk=given.pk)
    if given.spoken_at is None:
        raise NotSpoken(
            f"{given.given_by.full_name} signed this pass of cart {cart.fleet_number}: nothing waits to be confirmed."
        )
    if given.given_by != by:
        raise NotTheirWord(
            f"Only {given.given_by.full_name} can say whether they passed this for cart {cart.fleet_number}."
        )
    if not given.is_unanswered:
        said = "confirmed" if given.confirmed_at else "disowned"
        raise AnsweredAlready(f"You {said} this pass of cart {cart.fleet_number} already.")
    return given


@transaction.atomic
def confirm_pass(*, given: Pass, by: Staff, at: datetime) -> Pass:
    """The manager named confirms by their own sign-in that they gave it. After its hours too: it counts from then on, and stands
    as confirmed late. NotAllowed, NotSpoken, NotTheirWord, AnsweredAlready."""
    given = _to_answer(given, by=by)
    given.confirmed_at = at
    given.save(update_fields=["confirmed_at"])
    _journal(given, Event.PASS_CONFIRMED, by=by, at=at, rule=given.rule, late=given.is_confirmed_late)
    return given


@transaction.atomic
def disown_pass(*, given: Pass, by: Staff, at: datetime) -> Pass:
    """The manager named never said it: the pass is closed at once and what it passed stops the cart again.
    NotAllowed, NotSpoken, NotTheirWord, AnsweredAlready."""
    given = _to_answer(given, by=by)
    need = next_need([given.cart], at=at).get(given.cart_id)
    given.disowned_at = at
    if given.closed_at is None:
        given.closed_at, given.closed_by = at, by
    given.save(update_fields=["disowned_at", "closed_at", "closed_by"])
    is_out = need is not None and need.is_out
    _journal(given, Event.PASS_DISOWNED, by=by, at=at, rule=given.rule, is_out=is_out)
    return given
