"""Days stood down: told and agreed at once, and struck out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from hire.charge_facts import charge_ends_at, dockets_of
from hire.charging.money import day_words, span_words
from hire.given_up import given_up_before, given_up_words
from hire.models.agreements import Line, StandDown
from hire.models.stand_downs import StandDownStrike
from hire.swaps import lock_hire
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class AlreadyStoodDown(Refusal):
    """The day is stood down or claimed already, or cannot be."""

    field = "on"


class GivenUpAlready(Refusal):
    """The day was given up in a dispute, and would be credited twice."""

    field = "on"


class ToldLater(Refusal):
    """The yard cannot have been told at a time still to come."""

    field = "told_at"


class HireSettled(Refusal):
    """The last docket of the hire is made."""


class StruckAlready(Refusal):
    """The day is struck out."""


class WordsWanted(Refusal):
    """Nothing is struck out or refused without words."""

    field = "why"


@dataclass(frozen=True)
class StoodDown:
    """What is argued about later, as it was told at the time. told_at: None for this moment. worked_hours: what the clock gained
    that day, None where nobody read it. lost_hours and cause: of a breakdown."""

    told_at: datetime | None = None
    worked_hours: Decimal | None = None
    lost_hours: Decimal | None = None
    cause: str = ""
    customer_words: str = ""
    yard_words: str = ""

    def at_the_latest(self, at: datetime) -> StoodDown:
        """With the time told, which has passed. ToldLater."""
        if self.told_at is not None and self.told_at > at:
            raise ToldLater("That is still to come. Give the time at which the yard was told.")
        return replace(self, told_at=self.told_at or at)


def check_desk(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down and decides days stood down.")


def line_out_on(line: Line, lines: Sequence[Line], on: date) -> Line:
    """The line, else another of its hire (lines, locked), whose cart was out on that day, or still is. AlreadyStoodDown."""
    own = next(one for one in lines if one.pk == line.pk)
    for one in (own, *lines):
        if one.handed_over_at is None or on < one.agreement.day(one.handed_over_at):
            continue
        if one.back_at is None or on <= one.agreement.day(one.back_at):
            return Line.objects.for_list().get(pk=one.pk)
    left, back, day = own.handed_over_at, own.back_at, own.agreement.day
    if left is None:
        raise AlreadyStoodDown(f"{line.cart.fleet_number} has not left on {line.agreement.number}.")
    out = span_words(day(left), day(back)) if back else f"{day_words(day(left))} on"
    raise AlreadyStoodDown(
        f"{line.cart.fleet_number} was not out on {day_words(on)}. Give a day of its hire: {out}."
    )


def check_unsettled(lines: Sequence[Line]) -> None:
    last = dockets_of(lines).last()
    if last is not None and last.is_last and charge_ends_at(lines[-1]) is not None:
        raise HireSettled(
            f"{last.number} is the last docket of this hire, and it is settled by that. A day that should not have been charged is "
            "disputed with the docket."
        )


def check_free(line: Line, on: date) -> None:
    if line.stand_downs.standing().filter(on=on).exists():
        raise AlreadyStoodDown(f"{line.cart.fleet_number} is stood down for {on:%-d %b} already.")


def check_not_given_up(line: Line, lines: Sequence[Line], on: date, *, by: Staff | None) -> None:
    earlier = given_up_before(lines, on)
    if earlier is None:
        return
    day = f"{day_words(on)} of {line.cart.fleet_number}"
    if by is None:
        raise GivenUpAlready(f"{day} is credited already. Ring the yard if that looks wrong.")
    raise GivenUpAlready(
        f"{day} was {given_up_words(earlier)}. Stood down besides, it would be credited twice: leave it as it is."
    )


def write_of_day(
    event: Event, line: Line, on: date, *, by: Staff | None, by_words: str = "", at: datetime, **facts: object
) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id)], by=by, by_words=by_words, at=at,
        facts={"on": on} | facts,
    )  # fmt: skip


def keep_day(line: Line, lines: Sequence[Line], row: StandDown, *, by: Staff) -> StandDown:
    """The day as it counts from now on. AlreadyStoodDown; GivenUpAlready."""
    check_free(line, row.on)
    check_not_given_up(line, lines, row.on, by=by)
    row.line, row.nth = line, line.stand_downs.filter(on=row.on).count() + 1
    row.save(force_insert=True)
    return row


@transaction.atomic
def stand_down(
    *, line: Line, on: date, why: str, told_by_words: str, kind: str = "rain", facts: StoodDown | None = None, by: Staff,
    at: datetime,
) -> StandDown:  # fmt: skip
    """Stand a cart down for one day of its hire, told and agreed at once: no pre-start is owed for it. Also once it is back, until
    the hire is settled. NotAllowed; AlreadyStoodDown; HireSettled; GivenUpAlready; ToldLater."""
    check_desk(by)
    lines, told = lock_hire(line), (facts or StoodDown()).at_the_latest(at)
    line = line_out_on(line, lines, on)
    check_unsettled(lines)
    row = StandDown(
        on=on, kind=kind, why=why, told_by_words=told_by_words, made_at=at, made_by=by, **vars(told)
    )
    keep_day(line, lines, row, by=by)
    write_of_day(
        Event.STOOD_DOWN, line, on, by=by, at=at, kind=kind, why=why, told_by=told_by_words, **vars(told)
    )  # fmt: skip
    return row


@transaction.atomic
def strike_stand_down(*, stand_down: StandDown, why: str, by: Staff, at: datetime) -> StandDownStrike:
    """Strike out a day stood down by mistake: it is charged, and its pre-starts are owed. A docket made without it is put right by
    the next one. NotAllowed; WordsWanted; StruckAlready."""
    check_desk(by)
    if not why.strip():
        raise WordsWanted("Say why the day is struck out.")
    lock_hire(stand_down.line)
    line = Line.objects.for_list().get(pk=stand_down.line_id)
    if StandDownStrike.objects.filter(stand_down=stand_down).exists():
        raise StruckAlready(f"{day_words(stand_down.on)} of {line.cart.fleet_number} is struck out already.")
    strike = StandDownStrike(stand_down=stand_down, why=why, made_at=at, made_by=by)
    strike.save(force_insert=True)
    write_of_day(Event.STAND_DOWN_STRUCK, line, stand_down.on, by=by, at=at, why=why)
    return strike
