"""Days outside the week agreed: that a cart worked on one, by the word of a named person."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from hire.charge_facts import charge_ends_at
from hire.charging.money import day_words
from hire.models.agreements import Line
from hire.models.worked_days import WorkedDay
from hire.swaps import lock_hire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class NotThatDay(Refusal):
    """No cart of the hire was out on that day."""

    field = "on"


class SaidAlready(Refusal):
    """The day is written down as worked."""

    field = "on"


class SaidLater(Refusal):
    """Nobody has said anything at a time still to come."""

    field = "told_at"


class StruckAlready(Refusal):
    """It is struck out."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down that a cart worked.")


@transaction.atomic
def say_worked(
    *, line: Line, on: date, told_by_words: str, told_at: datetime, words: str = "", by: Staff, at: datetime
) -> WorkedDay:
    """Write down who says that a cart of this hire worked on a day; outside the week it is charged from then on, and a docket made
    before is put right by the next. NotAllowed; NotThatDay; SaidAlready; SaidLater."""
    _check(by)
    if told_at > at:
        raise SaidLater("That is still to come. Give the time at which it was said.")
    line = _out_on(lock_hire(line), on, at=at)
    if line.worked_days.filter(on=on, struck_at=None).exists():
        raise SaidAlready(
            f"{line.cart.fleet_number} is written down as worked on {day_words(on)} already. Strike that out first."
        )
    row = WorkedDay(
        line=line, on=on, told_by_words=told_by_words, told_at=told_at, words=words, made_at=at, made_by=by
    )
    row.save(force_insert=True)
    facts = {"on": on, "told_by": told_by_words, "told_at": told_at, "words": words}
    _write(Event.SAID_WORKED, line, facts, by=by, at=at)
    return row


def _out_on(lines: Sequence[Line], on: date, *, at: datetime) -> Line:
    """The line, of a hire and those it was swapped with, whose cart was out on that day. NotThatDay."""
    zone, about = ZoneInfo(lines[0].agreement.time_zone), lines[0].agreement.number
    out = sorted(((one.handed_over_at, one) for one in lines if one.handed_over_at), key=lambda each: each[0])
    for out_at, one in out:
        ends = min(filter(None, (charge_ends_at(one), at)))
        if out_at.astimezone(zone).date() <= on <= ends.astimezone(zone).date():
            return one
    if not out:
        raise NotThatDay(f"{lines[0].cart.fleet_number} has not left on {about}.")
    raise NotThatDay(
        f"No cart of {about} was out on {day_words(on)}, or that day is still to come. The hire began on "
        f"{day_words(out[0][0].astimezone(zone).date())}: give a day of it."
    )


@transaction.atomic
def strike_worked(*, worked: WorkedDay, why: str, by: Staff, at: datetime) -> WorkedDay:
    """It did not work that day after all; a docket that charged it is put right by the next. NotAllowed; StruckAlready."""
    _check(by)
    line = Line.objects.locked(worked.line_id)
    worked = WorkedDay.objects.select_for_update(of=("self",)).get(pk=worked.pk)
    if worked.struck_at is not None:
        raise StruckAlready(f"{day_words(worked.on)} is struck out already.")
    worked.struck_at, worked.struck_why = at, why
    worked.save(update_fields=["struck_at", "struck_why"])
    _write(Event.WORKED_STRUCK, line, {"on": worked.on, "why": why}, by=by, at=at)
    return worked


def _write(event: Event, line: Line, facts: dict[str, object], *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number} | facts,
    )  # fmt: skip
