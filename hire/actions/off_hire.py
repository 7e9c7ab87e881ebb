"""Off-hire in its moments: called off (numbered, stops the charge), came for in vain, left the site; or called off by mistake."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import connection, transaction

from fleet.sentences import moment_words, past_words
from hire.actions.kept import keep_to_its_end, keep_until
from hire.actions.site import count_link_try
from hire.charge_facts import terms_of
from hire.charge_stop import LOOK_AHEAD_DAYS, charge_stops_at
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.off_hire import FailedPickUp, OffHire
from hire.pick_up import fetched_by
from hire.public_holidays import closed_days
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import AT_THE_GATE, DESK
from people.yard import yard_day, yard_policy

NUMBER_LOCK = 7_245_303


class NotOnHire(Refusal):
    """The cart has not been handed over on this hire, or is back from it: there is nothing to call off."""


class AlreadyOffHired(Refusal):
    """The hire is off-hired; the sentence gives the number."""


class NotThen(Refusal):
    """The time given is before the cart was there, or has not come yet."""


class OffHireOver(Refusal):
    """The off-hire is cancelled, or the cart has left the site or is back: what is asked comes too late."""


class StillOnSite(Refusal):
    """Nobody wrote down that the cart left the site."""


class Swapped(Refusal):
    """The off-hire is half of a swap whose other half stands."""


@dataclass(frozen=True)
class PickUp:
    """What is written down for the days until pick-up: where the cart stands, who has the keys, who holds the risk, and when the
    cart is to be in the yard; None: within the yard's days for it."""

    pick_up_words: str
    keys_words: str
    risk_words: str
    back_by: datetime | None = None

    def words(self) -> dict[str, str]:
        return {name: getattr(self, name) for name in ("pick_up_words", "keys_words", "risk_words")}


def next_number(at: datetime) -> str:
    """The next off-hire number of the yard's year; callers take turns until their commit."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    year = yard_day(at).year
    last = OffHire.objects.filter(number__startswith=f"O{year}-").order_by("-number").first()
    return f"O{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def lock_to_call_off(line: Line, *, at: datetime) -> Line:
    """The line locked, once it is sure that it can be called off. NotOnHire; AlreadyOffHired."""
    line = Line.objects.locked(line.pk)
    cart, hire = line.cart.fleet_number, line.agreement.number
    if line.back_at is not None:
        raise NotOnHire(f"{cart} came back from {hire} {past_words(line.back_at, at=at)}: its hire is over.")
    if line.handed_over_at is None:
        raise NotOnHire(
            f"{cart} has not been handed over on {hire}. The hire desk cancels or moves the hire instead."
        )
    if stands := line.off_hires.standing().first():
        raise AlreadyOffHired(
            f"{cart} is off-hired already: {stands.number}, called {past_words(stands.called_at, at=at)}."
        )
    return line


def check_moment(moment: datetime, line: Line, *, at: datetime, field: str) -> None:
    """NotThen for a moment before the line's cart was handed over, or to come."""
    cart = line.cart.fleet_number
    if line.handed_over_at and moment < line.handed_over_at:
        raise NotThen(
            f"{cart} was handed over {past_words(line.handed_over_at, at=at)}. Give that time or a later one.",
            field=field,
        )
    if moment > at:
        raise NotThen(
            f"That is still to come: {moment_words(moment, at=at)}. Give a time that has passed.", field=field
        )


def keep_until_fetched(line: Line, back_by: datetime | None, *, called_at: datetime) -> None:
    """Part of another action, the line locked: its cart is kept for the hire until it is to be in the yard, and is others' to have
    from then. NotThen where that is before the call."""
    if back_by is not None and back_by <= called_at:
        raise NotThen(
            f"{line.cart.fleet_number} is fetched after the call. Say by when it is to be in the yard.",
            field="back_by",
        )
    keep_until(line, back_by or fetched_by(called_at))


def _keep(
    line: Line, call: OffHire, back_by: datetime | None, *, by: Staff | None, by_words: str, at: datetime
) -> OffHire:
    keep_until_fetched(line, back_by, called_at=call.called_at)
    call.save(force_insert=True)
    write_journal(
        event=Event.OFF_HIRED,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), YARD],
        by=by,
        by_words=by_words,
        at=at,
        facts={
            "agreement": line.agreement.number,
            "number": call.number,
            "called_at": call.called_at,
            "stops_at": call.stops_at,
            "called_by": call.called_by_words,
            "pick_up": call.pick_up_words,
            "keys": call.keys_words,
            "risk": call.risk_words,
            "back_by": line.kept_until,
        },
    )
    return call


def counts_closed(line: Line) -> bool:
    """Whether it is agreed that a call counts only on a day the yard is open."""
    agreed = terms_of(line)
    return agreed is not None and agreed.body.get("closed_calls") == "open day"


def _stops_at(line: Line, called_at: datetime) -> datetime:
    """By the site's clock: its day, its cut-off."""
    policy, about = yard_policy(), line.agreement
    on = about.day(called_at)
    is_closed = closed_days(on, on + timedelta(days=LOOK_AHEAD_DAYS)) if counts_closed(line) else None
    return charge_stops_at(called_at, cut_off=policy.off_hire_cut_off, zone=about.zone, is_closed=is_closed)


@transaction.atomic
def call_off(
    *, line: Line, called_at: datetime, called_by_words: str, pick_up: PickUp, by: Staff, at: datetime
) -> OffHire:
    """Write down an off-hire call that the yard took. NotAllowed; NotOnHire; AlreadyOffHired; NotThen."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk takes off-hire calls.")
    line = lock_to_call_off(line, at=at)
    check_moment(called_at, line, at=at, field="called_at")
    call = OffHire(
        line=line,
        number=next_number(at),
        called_at=called_at,
        made_at=at,
        stops_at=_stops_at(line, called_at),
        called_by_words=called_by_words,
        made_by=by,
        **pick_up.words(),
    )
    return _keep(line, call, pick_up.back_by, by=by, by_words="", at=at)


def call_off_by_link(*, link: CustomerLink, pick_up: PickUp, at: datetime) -> OffHire:
    """Call a hire off through its customer's link, now. TooManyTries; NotOnHire; AlreadyOffHired."""
    count_link_try("off-hire", link, at=at)
    return _call_off_by_link(link, pick_up, at=at)


@transaction.atomic
def _call_off_by_link(link: CustomerLink, pick_up: PickUp, *, at: datetime) -> OffHire:
    line = lock_to_call_off(link.line, at=at)
    call = OffHire(
        line=line,
        number=next_number(at),
        called_at=at,
        made_at=at,
        stops_at=_stops_at(line, at),
        called_by_words=link.for_words,
        link=link,
        **pick_up.words(),
    )
    return _keep(
        line, call, pick_up.back_by, by=None, by_words=f"{link.for_words}, by the customer’s link", at=at
    )


def _locked(off_hire: OffHire, *, has_left: bool = False) -> OffHire:
    """The off-hire under its line's lock, which every change of the hire takes first. has_left: it may have left the site."""
    line = Line.objects.locked(off_hire.line_id)
    loaded = OffHire.objects.select_related("replaced_by__cart")
    off_hire = loaded.select_for_update(of=("self",)).get(pk=off_hire.pk)
    off_hire.line = line
    if off_hire.cancelled_at is not None:
        raise OffHireOver(f"{off_hire.number} was cancelled. Nothing more is recorded on it.")
    if line.back_at is not None:
        raise OffHireOver(f"{line.cart.fleet_number} is back in the yard; {off_hire.number} is closed.")
    if off_hire.left_site_at is not None and not has_left:
        raise OffHireOver(
            f"{line.cart.fleet_number} has left the site; nothing more is recorded on {off_hire.number}."
        )
    return off_hire


def _write(event: Event, off_hire: OffHire, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("hire_line", off_hire.line_id),
        chains=[cart_chain(off_hire.line.cart_id), YARD],
        by=by,
        at=at,
        facts={"number": off_hire.number} | facts,
    )


@transaction.atomic
def cancel_off_hire(*, off_hire: OffHire, why: str, by: Staff, at: datetime) -> OffHire:
    """The call was a mistake: the hire goes on and is charged as if nobody had called.

    NotAllowed; OffHireOver; Swapped; TakenSince where its cart was promised to another hire meanwhile.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk cancels off-hire calls.")
    off_hire = _locked(off_hire)
    other = off_hire.replaced_by
    if other is not None and other.cancelled_at is None:
        raise Swapped(
            f"{off_hire.line.cart.fleet_number} was swapped for {other.cart.fleet_number}. Cancel the hire of "
            f"{other.cart.fleet_number} first, before it leaves."
        )
    keep_to_its_end(off_hire.line, off_hire.number, at=at)
    off_hire.cancelled_at, off_hire.cancelled_why = at, why
    off_hire.save(update_fields=["cancelled_at", "cancelled_why"])
    _write(Event.OFF_HIRE_CANCELLED, off_hire, by=by, at=at, why=why)
    return off_hire


def _check_driver(by: Staff) -> None:
    if not by.has_role(AT_THE_GATE):
        raise NotAllowed("The hire desk, a yard hand or a manager records a pick-up.")


@transaction.atomic
def record_left_site(*, off_hire: OffHire, left_site_at: datetime, by: Staff, at: datetime) -> OffHire:
    """The cart was picked up and is on its way. NotAllowed; OffHireOver; NotThen."""
    _check_driver(by)
    off_hire = _locked(off_hire)
    check_moment(left_site_at, off_hire.line, at=at, field="left_site_at")
    off_hire.left_site_at = left_site_at
    off_hire.save(update_fields=["left_site_at"])
    _write(Event.LEFT_SITE, off_hire, by=by, at=at, left_site_at=left_site_at)
    return off_hire


@transaction.atomic
def not_left_site(*, off_hire: OffHire, why: str, by: Staff, at: datetime) -> OffHire:
    """It has not left the site after all: it waits for its pick-up again. NotAllowed; OffHireOver; StillOnSite."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk takes back that a cart left the site.")
    off_hire = _locked(off_hire, has_left=True)
    was = off_hire.left_site_at
    if was is None:
        raise StillOnSite(f"{off_hire.line.cart.fleet_number} is on site: no pick-up is on record.")
    off_hire.left_site_at = None
    off_hire.save(update_fields=["left_site_at"])
    _write(Event.NOT_LEFT_SITE, off_hire, by=by, at=at, was_left_site_at=was, why=why)
    return off_hire


@transaction.atomic
def record_failed_pick_up(
    *,
    off_hire: OffHire,
    tried_at: datetime,
    why: str,
    back_by: datetime | None = None,
    by: Staff,
    at: datetime,
) -> FailedPickUp:
    """We came and could not take it. back_by: when it is to be in the yard now; None: within the yard's days for it. Where another
    hire has the cart before that it waits, and the cart is overdue for it. NotAllowed; OffHireOver; NotThen."""
    _check_driver(by)
    off_hire = _locked(off_hire)
    if tried_at < off_hire.called_at:
        raise NotThen(
            f"{off_hire.number} was called {past_words(off_hire.called_at, at=at)}. Give that time or a later one.",
            field="tried_at",
        )
    check_moment(tried_at, off_hire.line, at=at, field="tried_at")
    if back_by is not None and back_by <= tried_at:
        raise NotThen("It could not be taken then. Give a later time for its return.", field="back_by")
    failed = FailedPickUp(off_hire=off_hire, tried_at=tried_at, why=why, made_at=at, made_by=by)
    failed.save(force_insert=True)
    keep_until(off_hire.line, back_by or fetched_by(tried_at))
    _write(
        Event.PICK_UP_FAILED,
        off_hire,
        by=by,
        at=at,
        tried_at=tried_at,
        why=why,
        back_by=off_hire.line.kept_until,
    )
    return failed
