"""Passing by authority: something that stops a cart is let go by a named manager, for a while, for a reason, in print."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NotRequired, TypedDict, Unpack

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.board import window_for
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from fleet.models.standing import Pass
from fleet.needs import next_need
from fleet.passing import LONGEST, MOST_TURNS, PASS_REASONS, asks_second_name, may_pass
from fleet.readiness import Blocker, Record, Window, readiness
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.journal.models import Entry
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, Role
from people.say import say

HOUR = timedelta(hours=1)
# Whoever wrote one of these about a record has worked on it, and does not pass it.
OWN_WORK = (
    Event.REPAIR_STARTED,
    Event.REPAIR_DONE,
    Event.WALK_ROUND_SIGNED,
    Event.TYRE_FITTED,
    Event.EXTINGUISHER_SERVICED,
)
# What is typed with a pass and kept as it is.
TYPED = ("words", "condition_words", "done_instead", "told_words", "ends_event", "second_name", "second_firm")


class NothingToPass(Refusal):
    """What was to be passed does not stop the cart now."""


class NeverPassed(Refusal):
    """What may never be passed: the only way out is repair."""


class AlreadyPassed(Refusal):
    """A pass for this stands, or ended and was not closed."""


class OwnWork(Refusal):
    """Nobody passes their own work."""


class PassedTwice(Refusal):
    """Passed twice already; a third time is refused."""


class PassClosed(Refusal):
    """The pass was closed already."""


class SecondName(Refusal):
    """The rule or the reason asks for a second named person, or the one named cannot be it."""

    field = "second_person"


class Terms(TypedDict):
    """What is said with a pass. second_*: who stands beside the giver, one of the yard or an outsider by name and firm."""

    reason: str
    words: str
    condition_words: str
    done_instead: str
    told_words: str
    ends_at: datetime
    ends_event: NotRequired[str]
    photo: NotRequired[Photo | None]
    second_person: NotRequired[Staff | None]
    second_name: NotRequired[str]
    second_firm: NotRequired[str]


@dataclass(frozen=True)
class Spoken:
    """A pass given by phone, entered by another: when it was spoken, until when it waits for its giver's own word."""

    entered_by: Staff
    at: datetime
    confirm_by_at: datetime


def window_of(cart: Cart, *, at: datetime) -> Window:
    """The window a cart is judged for when nobody names one: its next hire's, as on its own page."""
    return window_for(next_need([cart], at=at).get(cart.pk), at=at)


def found_now(cart: Cart, code: str, record: Record, *, window: Window | None, at: datetime) -> Blocker:
    """The blocker as readiness finds it now. NothingToPass; AlreadyPassed."""
    answer = readiness(cart, window=window or window_of(cart, at=at), at=at)
    for blocker in answer.blockers:
        if (blocker.code, blocker.record) == (code, record):
            return blocker
    for passed in answer.passed:
        if (passed.blocker.code, passed.blocker.record) == (code, record):
            raise AlreadyPassed(
                f"{passed.given.given_by.full_name} has passed this for cart {cart.fleet_number} already."
            )
    raise NothingToPass(f"This does not stop cart {cart.fleet_number} now: there is nothing to pass.")


def _worked_on(record: Record, person: Staff) -> bool:
    """Whether the person worked on it, by the journal or as its repairer."""
    worked = Entry.objects.filter(
        subject_kind=record.kind,
        subject_id=record.id,
        by=person,
        event__in=[event.value for event in OWN_WORK],
    ).exists()
    return worked or (
        record.kind == "defect" and Defect.objects.filter(pk=record.id, repaired_by=person).exists()
    )


def _check_who(blocker: Blocker, turn: int, cart: Cart, giver: Staff, *, field: str | None) -> None:
    if not blocker.passed_by:
        raise NeverPassed(
            f"Cart {cart.fleet_number}: this may never be passed. {blocker.sentence} {blocker.clear_words}."
        )
    if turn > MOST_TURNS:
        raise PassedTwice(
            f"This has been passed twice already. It is put right, or cart {cart.fleet_number} stays."
        )
    allowed = may_pass(blocker, turn=turn)
    if not giver.has_role(allowed):
        who = " or ".join(sorted(Role(role).label.lower() for role in allowed))
        again = "A second pass goes up one rank: " if turn > 1 else ""
        raise NotAllowed(f"{again}only the {who} may pass this for cart {cart.fleet_number}.", field=field)
    if _worked_on(blocker.record, giver):
        raise OwnWork(
            f"{giver.full_name} worked on this, and nobody passes their own work. Ask another manager.",
            field=field,
        )


def _check_terms(reason: str, ends_at: datetime, at: datetime) -> None:
    if reason not in PASS_REASONS:
        raise AgainstARule("Pick one of the reasons.", field="reason")
    if ends_at <= at:
        raise AgainstARule("A pass is never back-dated: it ends later than now.", field="ends_at")
    if ends_at > at + LONGEST:
        raise AgainstARule(f"A pass lasts {LONGEST.days} days at most.", field="ends_at")


def _check_second(given: Pass, record: Record) -> None:
    """SecondName where it is asked and missing, or half said, or where the one named passes it, enters it or worked on it."""
    cart, second = given.cart.fleet_number, given.second_person
    if second is None and not given.second_name and not given.second_firm:
        if asks_second_name(given.rule, given.reason):
            raise SecondName(
                f"This asks for a second name. Say who stands beside {given.given_by.full_name} for cart {cart}."
            )
        return
    if second is None:
        if not (given.second_name and given.second_firm):
            missing = "second_firm" if given.second_name else "second_name"
            raise SecondName("An outsider is named with their firm.", field=missing)
    elif given.second_name or given.second_firm:
        raise SecondName("The second name is one of the yard, or an outsider by name and firm: not both.")
    elif second in (given.given_by, given.entered_by):
        who = "passes this" if second == given.given_by else "enters this"
        raise SecondName(f"{second.full_name} {who}. The second name is somebody else.")
    elif not second.is_active:
        raise SecondName(f"{second.full_name} does not work here any more. Name somebody who does.")
    elif _worked_on(record, second):
        raise SecondName(
            f"{second.full_name} worked on this for cart {cart}. The second name is somebody else."
        )


def pass_facts(given: Pass) -> dict[str, object]:
    """What the journal keeps of a pass as it is given."""
    return {
        "rule": given.rule,
        "record": [given.record_kind, given.record_id],
        "found": given.found,
        "reason": given.reason,
        "words": given.words,
        "condition": given.condition_words,
        "done_instead": given.done_instead,
        "told": given.told_words,
        "turn": given.turn,
        "ends_at": given.ends_at,
        "ends_event": given.ends_event,
        "second": given.second_words,
    }


def turn_of(cart: Cart, blocker: Blocker, giver: Staff, *, field: str | None = None) -> int:
    """How often this will have been passed, this time with it, once everything about who and how often is in order. One that
    was disowned was never given, and does not count. field: of the form, where the giver is named on it."""
    record = blocker.record
    before = Pass.objects.filter(rule=blocker.code, record_kind=record.kind, record_id=record.id)
    turn = before.filter(disowned_at=None).count() + 1
    _check_who(blocker, turn, cart, giver, field=field)
    if last := before.filter(closed_at=None).select_related("given_by").first():
        over = (
            f"waits for {last.given_by.full_name}, who has not confirmed it in time. They confirm it, or it is closed first"
            if last.is_unanswered
            else "has ended. Close it first"
        )
        raise AlreadyPassed(f"The last pass of this for cart {cart.fleet_number} {over}.")
    return turn


def write_pass(
    *,
    cart: Cart,
    blocker: Blocker,
    turn: int,
    terms: Terms,
    giver: Staff,
    spoken: Spoken | None,
    at: datetime,
) -> Pass:
    """Keep a pass whose giver and turn are in order. SecondName; AgainstARule for terms left out. The caller has the cart's lock,
    and writes the journal."""
    _check_terms(terms["reason"], terms["ends_at"], at)
    given = Pass(
        cart=cart,
        rule=blocker.code,
        record_kind=blocker.record.kind,
        record_id=blocker.record.id,
        found=say(blocker.sentence)[:240],
        reason=terms["reason"],
        **{name: str(terms.get(name, "")).strip() for name in TYPED},
        second_person=terms.get("second_person"),
        given_at=at,
        given_by=giver,
        turn=turn,
        ends_at=terms["ends_at"],
        photo=terms.get("photo"),
    )
    if spoken:
        given.entered_by, given.spoken_at = spoken.entered_by, spoken.at
        given.confirm_by_at = spoken.confirm_by_at
    _check_second(given, blocker.record)
    check_fields(given)
    with rules_of(Pass):
        given.save(force_insert=True)
    return given


@transaction.atomic
def give_pass(
    *,
    cart: Cart,
    code: str,
    record: Record,
    window: Window | None = None,
    by: Staff,
    at: datetime,
    **terms: Unpack[Terms],
) -> Pass:
    """Pass one thing that stops a cart now, by authority, until `ends_at` (at most 14 days) or the named event.

    code, record: the blocker, which readiness must find now for `window` (None: the cart's next hire). reason: one of
    fleet.passing.PASS_REASONS. A second pass of the same thing is the fleet manager's; a third is refused.
    NothingToPass, NeverPassed, AlreadyPassed, PassedTwice, NotAllowed, OwnWork, SecondName; AgainstARule for terms left out.
    """
    cart = lock_cart(cart)
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager passes anything by authority.")
    blocker = found_now(cart, code, record, window=window, at=at)
    turn = turn_of(cart, blocker, by)
    given = write_pass(cart=cart, blocker=blocker, turn=turn, terms=terms, giver=by, spoken=None, at=at)
    write_journal(
        event=Event.PASS_GIVEN,
        subject=("pass", given.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts=pass_facts(given),
    )
    return given


@transaction.atomic
def close_pass(*, given: Pass, by: Staff, at: datetime) -> Pass:
    """Close a pass: its cause is put right, or it is no longer wanted. NotAllowed, PassClosed."""
    ask_role(by, MANAGERS, "A pass is closed by the workshop manager or the fleet manager.")
    cart = lock_cart(given.cart)
    given = Pass.objects.select_for_update(of=("self",)).select_related("closed_by").get(pk=given.pk)
    if given.closed_by is not None:
        raise PassClosed(f"{given.closed_by.full_name} closed this pass of cart {cart.fleet_number} already.")
    given.closed_at, given.closed_by = at, by
    given.save(update_fields=["closed_at", "closed_by"])
    write_journal(
        event=Event.PASS_CLOSED,
        subject=("pass", given.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "rule": given.rule,
            "record": [given.record_kind, given.record_id],
            "late": at > given.ends_at,
        },
    )
    return given
