"""Passing by authority: something that stops a cart is let go by a named manager, for a while, for a reason, in print."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.board import window_for
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from fleet.models.standing import Pass
from fleet.needs import next_need
from fleet.passing import LONGEST, MOST_TURNS, PASS_REASONS, may_pass
from fleet.readiness import Blocker, Record, Window, readiness
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.journal.models import Entry
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, Role
from people.say import say

# Whoever wrote one of these about a record has worked on it, and does not pass it.
OWN_WORK = (
    Event.REPAIR_STARTED,
    Event.REPAIR_DONE,
    Event.WALK_ROUND_SIGNED,
    Event.TYRE_FITTED,
    Event.EXTINGUISHER_SERVICED,
)


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


def window_of(cart: Cart, *, at: datetime) -> Window:
    """The window a cart is judged for when nobody names one: its next hire's, as on its own page."""
    return window_for(next_need([cart], at=at).get(cart.pk), at=at)


def _found(cart: Cart, code: str, record: Record, *, window: Window | None, at: datetime) -> Blocker:
    """The blocker as readiness finds it now."""
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


def _check_who(blocker: Blocker, turn: int, cart: Cart, by: Staff) -> None:
    if not blocker.passed_by:
        raise NeverPassed(
            f"Cart {cart.fleet_number}: this may never be passed. {blocker.sentence} {blocker.clear_words}."
        )
    if turn > MOST_TURNS:
        raise PassedTwice(
            f"This has been passed twice already. It is put right, or cart {cart.fleet_number} stays."
        )
    allowed = may_pass(blocker, turn=turn)
    if not by.has_role(allowed):
        who = " or ".join(sorted(Role(role).label.lower() for role in allowed))
        again = "A second pass goes up one rank: " if turn > 1 else ""
        raise NotAllowed(f"{again}only the {who} may pass this for cart {cart.fleet_number}.")
    record = blocker.record
    worked = Entry.objects.filter(
        subject_kind=record.kind, subject_id=record.id, by=by, event__in=[event.value for event in OWN_WORK]
    ).exists()
    repaired = record.kind == "defect" and Defect.objects.filter(pk=record.id, repaired_by=by).exists()
    if worked or repaired:
        raise OwnWork(
            f"{by.full_name} worked on this, and nobody passes their own work. Ask another manager."
        )


def _check_terms(reason: str, ends_at: datetime, at: datetime) -> None:
    if reason not in PASS_REASONS:
        raise AgainstARule("Pick one of the reasons.", field="reason")
    if ends_at <= at:
        raise AgainstARule("A pass is never back-dated: it ends later than now.", field="ends_at")
    if ends_at > at + LONGEST:
        raise AgainstARule(f"A pass lasts {LONGEST.days} days at most.", field="ends_at")


def _facts(given: Pass) -> dict[str, object]:
    return {
        "rule": given.rule,
        "record": [given.record_kind, given.record_id],
        "found": given.found,
        "reason": given.reason,
        "words": given.words,
        "done_instead": given.done_instead,
        "told": given.told_words,
        "turn": given.turn,
        "ends_at": given.ends_at,
        "ends_event": given.ends_event,
    }


def _turn_of(cart: Cart, blocker: Blocker, by: Staff) -> int:
    """How often this will have been passed, this time with it, once everything about who and how often is in order."""
    record = blocker.record
    before = Pass.objects.filter(rule=blocker.code, record_kind=record.kind, record_id=record.id)
    turn = before.count() + 1
    _check_who(blocker, turn, cart, by)
    if before.filter(closed_at=None).exists():
        raise AlreadyPassed(f"The last pass of this for cart {cart.fleet_number} has ended. Close it first.")
    return turn


@transaction.atomic
def give_pass(
    *,
    cart: Cart,
    code: str,
    record: Record,
    reason: str,
    words: str,
    done_instead: str,
    told_words: str,
    ends_at: datetime,
    ends_event: str = "",
    photo: Photo | None = None,
    window: Window | None = None,
    by: Staff,
    at: datetime,
) -> Pass:
    """Pass one thing that stops a cart now, by authority, until `ends_at` (at most 14 days) or the named event.

    code, record: the blocker, which readiness must find now for `window` (None: the cart's next hire). reason: one of
    fleet.passing.PASS_REASONS. A second pass of the same thing is the fleet manager's; a third is refused.
    NothingToPass, NeverPassed, AlreadyPassed, PassedTwice, NotAllowed, OwnWork; AgainstARule for terms left out.
    """
    cart = lock_cart(cart)
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager passes anything by authority.")
    blocker = _found(cart, code, record, window=window, at=at)
    turn = _turn_of(cart, blocker, by)
    _check_terms(reason, ends_at, at)
    given = Pass(
        cart=cart,
        rule=code,
        record_kind=record.kind,
        record_id=record.id,
        found=say(blocker.sentence)[:240],
        reason=reason,
        words=words.strip(),
        done_instead=done_instead.strip(),
        told_words=told_words.strip(),
        given_at=at,
        given_by=by,
        turn=turn,
        ends_at=ends_at,
        ends_event=ends_event.strip(),
        photo=photo,
    )
    check_fields(given)
    with rules_of(Pass):
        given.save(force_insert=True)
    write_journal(
        event=Event.PASS_GIVEN,
        subject=("pass", given.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts=_facts(given),
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
