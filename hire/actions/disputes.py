"""Disputes: a docket line is disputed, both sides say what they say, a named person decides."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Sum

from fleet.models.photos import Photo
from hire.charging.money import day_words, days_words
from hire.given_up import days_disputed, given_up_before, given_up_words, struck_since, taken_off
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.models.disputes import Dispute, DisputeOutcome, DisputeWord, GivenUpDay
from hire.models.money import BesideCharge, Docket
from hire.swaps import lines_together, lock_hire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

BESIDE = "beside "
# Of a credit that a dispute gave, and of what took it back.
GIVEN_UP = "dispute "


class NotDisputable(Refusal):
    """The docket has no such charge."""

    field = "line_no"


class DisputedAlready(Refusal):
    """The line is disputed, and nobody has decided."""

    field = "line_no"


class ToldLater(Refusal):
    """Nobody has said anything at a time still to come."""

    field = "told_at"


class DecidedAlready(Refusal):
    """The dispute is decided: what was said and decided stays."""


class NotThatMuch(Refusal):
    """More, or less, would be given up than the outcome says."""

    field = "given_up"


class DaysNotSaid(Refusal):
    """A part of the hire is given up, and nobody said for which days."""

    field = "days"


class CreditedAlready(Refusal):
    """A day that would be given up is credited already, or not charged by this line."""

    field = "days"


@dataclass(frozen=True)
class Said:
    """One thing said. how: one of models.disputes.WAYS. record: (kind, id, words) of a record of the yard, or None."""

    words: str
    by_words: str
    how: str
    told_at: datetime
    photo: Photo | None = None
    record: tuple[str, UUID, str] | None = None


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes disputes down and decides them.")


def _locked(docket: Docket) -> Line:
    """The docket's hire, under the lock its dockets are made under."""
    return Line.objects.locked(docket.line_id)


def _write(event: Event, line: Line, dispute: Dispute, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event, subject=("dispute", dispute.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"docket": dispute.docket.number, "line": dispute.line_no, "what": dispute.line_what} | facts,
    )  # fmt: skip


@transaction.atomic
def open_dispute(*, docket: Docket, line_no: int, said: Said, by: Staff, at: datetime) -> Dispute:
    """Write down that a line of a docket (counted from 1) is disputed, and what the customer says.

    NotAllowed; NotDisputable for a line that is none, or no charge; DisputedAlready; ToldLater.
    """
    _check(by)
    line, lines = _locked(docket), docket.body["lines"]
    if not 1 <= line_no <= len(lines):
        raise NotDisputable(f"{docket.number} has lines 1 to {len(lines)}. Choose one of them.")
    one = lines[line_no - 1]
    if Decimal(one["amount"]) <= 0 or one["key"].startswith(GIVEN_UP):
        raise NotDisputable(f"“{one['what']}” is no charge. Dispute the charge it came from.")
    if docket.disputes.open().filter(line_no=line_no).exists():
        raise DisputedAlready(
            f"“{one['what']}” of {docket.number} is disputed already. Add what is said to that."
        )
    dispute = Dispute(
        docket=docket, line_no=line_no, line_key=one["key"], line_what=one["what"][:160],
        line_amount=Decimal(one["amount"]), made_at=at, made_by=by,
    )  # fmt: skip
    dispute.save(force_insert=True)
    _say(dispute, "theirs", said, by=by, at=at)
    _write(Event.DISPUTE_OPENED, line, dispute, by=by, at=at, by_words=said.by_words, words=said.words)
    return dispute


@transaction.atomic
def add_words(*, dispute: Dispute, side: str, said: Said, by: Staff, at: datetime) -> DisputeWord:
    """Write down what one side says besides. side: "theirs" | "ours". NotAllowed; DecidedAlready; ToldLater."""
    _check(by)
    line = _locked(dispute.docket)
    _check_open(dispute)
    word = _say(dispute, side, said, by=by, at=at)
    _write(
        Event.DISPUTE_SAID, line, dispute, by=by, at=at, side=side, by_words=said.by_words, words=said.words
    )
    return word


def _check_open(dispute: Dispute) -> None:
    if DisputeOutcome.objects.filter(dispute=dispute).exists():
        raise DecidedAlready(f"{dispute} is decided. Dispute the line anew if there is more to say.")


def _say(dispute: Dispute, side: str, said: Said, *, by: Staff, at: datetime) -> DisputeWord:
    if said.told_at > at:
        raise ToldLater("That is still to come. Give the time at which it was said.")
    kind, record_id, record_words = said.record or ("", None, "")
    word = DisputeWord(
        dispute=dispute, side=side, words=said.words, by_words=said.by_words, how=said.how, told_at=said.told_at,
        photo=said.photo, record_kind=kind, record_id=record_id, record_words=record_words[:160], made_at=at, made_by=by,
    )  # fmt: skip
    word.save(force_insert=True)
    return word


@transaction.atomic
def decide_dispute(
    *, dispute: Dispute, outcome: str, given_up: Decimal | None = None, days: Collection[date] | None = None, words: str,
    by: Staff, at: datetime,
) -> DisputeOutcome:  # fmt: skip
    """Decide: "stands", "part" (given_up of it) or "given_up" (all that is left of the line). What is given up is credited by
    the hire's next docket, before tax. days: of a line by the day, those a part is given up for, () for no single one; all of it
    is all its days. NotAllowed; DecidedAlready; NotThatMuch; DaysNotSaid; CreditedAlready."""
    _check(by)
    lock_hire(dispute.docket.line)
    line = _locked(dispute.docket)
    _check_open(dispute)
    amount = _amount(dispute, outcome, given_up)
    gone = _days_given_up(dispute, outcome, days)
    row = DisputeOutcome(
        dispute=dispute, outcome=outcome, given_up=amount, words=words, decided_at=at, decided_by=by
    )
    row.save(force_insert=True)
    for on in gone:
        GivenUpDay(outcome=row, line=line, line_key=dispute.line_key, on=on).save(force_insert=True)
    _write(
        Event.DISPUTE_DECIDED, line, dispute, by=by, at=at, outcome=outcome, given_up=row.given_up, days=gone, words=words
    )  # fmt: skip
    return row


def _days_given_up(dispute: Dispute, outcome: str, days: Collection[date] | None) -> list[date]:
    """The days the outcome gives up, none of them credited before: of a hire line given up whole, those it still charged."""
    if outcome == "stands":
        if days:
            raise CreditedAlready("What stands gives no day up. Leave the days blank.")
        return []
    charged = days_disputed(dispute)
    if stray := sorted(set(days or ()) - set(charged)):
        raise CreditedAlready(
            f"This line does not charge {days_words(stray)} by the day. Dispute the docket that charged it."
        )
    if not charged:
        return []
    if outcome == "part" and days is None:
        raise DaysNotSaid("Say for which days it is given up, or that it is for no single day.")
    is_whole = outcome == "given_up"
    return _uncredited(dispute, charged if is_whole else sorted(days or ()), is_whole=is_whole)


def _uncredited(dispute: Dispute, asked: Collection[date], *, is_whole: bool) -> list[date]:
    """The days asked for, once it is sure that none is credited; of a whole line, less those it did not charge, or no longer."""
    docket = dispute.docket
    try:
        off, struck = taken_off(docket), struck_since(docket)
    except ValueError as error:
        raise CreditedAlready(str(error)) from error
    lines, gone = lines_together(docket.line), []
    for on in asked:
        before = given_up_before(lines, on, key=dispute.line_key)
        if is_whole and (before or on in struck or (on in off and off[on].is_known_to(docket))):
            continue
        if on in off:
            raise CreditedAlready(
                f"{day_words(on)} is taken off the hire already: {off[on].why}. Given up besides, it would be credited twice: give "
                "up the rest in part, without that day."
            )
        if on in struck:
            raise CreditedAlready(
                f"{docket.number} was made without {day_words(on)}, stood down then and struck out since. Dispute the docket that "
                "charges it."
            )
        if before is not None:
            raise CreditedAlready(f"{day_words(on)} was {given_up_words(before)}. Leave that day out.")
        gone.append(on)
    return gone


def _amount(dispute: Dispute, outcome: str, given_up: Decimal | None) -> Decimal:
    """What is given up, which earlier outcomes of the line and a charge struck out leave less of."""
    if outcome == "stands":
        if given_up:
            raise NotThatMuch("What stands gives nothing up. Leave the amount blank.")
        return Decimal(0)
    if is_struck(dispute.line_key):
        raise NotThatMuch(f"“{dispute.line_what}” is struck out: the next docket credits it by itself.")
    if other := replaced_by(dispute.line_key):
        raise NotThatMuch(
            f"“{dispute.line_what}” is charged no longer: {other} took the place of its daily docket, and the next docket credits "
            "it by itself."
        )
    before = given_up_of(dispute.docket, dispute.line_no)
    left = dispute.line_amount - before
    if outcome == "given_up" and left > 0 and given_up in (None, left):
        return left
    if outcome == "given_up" or given_up is None or not 0 < given_up < left:
        raise NotThatMuch(
            f"{left:,.2f} of the line is left. Give up all of it, or an amount above zero and below that in part."
        )
    return given_up


def given_up_of(docket: Docket, line_no: int) -> Decimal:
    found = DisputeOutcome.objects.filter(dispute__docket=docket, dispute__line_no=line_no)
    return found.aggregate(sum=Sum("given_up"))["sum"] or Decimal(0)


def is_struck(key: str) -> bool:
    """Whether a charge beside the hire, by its key on the docket, is struck out."""
    return (
        key.startswith(BESIDE)
        and BesideCharge.objects.filter(pk=key.removeprefix(BESIDE), struck_at__isnull=False).exists()
    )


def replaced_by(key: str) -> str:
    """The number of the daily docket that took the place of the one charged by this key; "" where none did."""
    kind, _, name = key.partition(" ")
    if kind != "docket":
        return ""
    other = DailyDocket.objects.filter(replaces__number=name.split(" ")[0]).first()
    return other.number if other else ""
