"""A day on which a cart on hire was not worked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from hire.charging.money import day_words
from hire.given_up import given_up_before, given_up_words
from hire.models.agreements import Line, StandDown
from hire.swaps import lock_hire
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_day


class AlreadyStoodDown(Refusal):
    """The day is stood down already, or cannot be."""


class GivenUpAlready(Refusal):
    """The day was given up in a dispute, and would be credited twice."""

    field = "on"


class ToldLater(Refusal):
    """The yard cannot have been told at a time still to come."""


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


@transaction.atomic
def stand_down(
    *, line: Line, on: date, why: str, told_by_words: str, kind: str = "rain", facts: StoodDown | None = None, by: Staff,
    at: datetime,
) -> StandDown:  # fmt: skip
    """Stand a cart down for one day of its hire: no pre-start is owed for it. NotAllowed; AlreadyStoodDown; GivenUpAlready;
    ToldLater."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk stands carts down.")
    lines, told = lock_hire(line), facts or StoodDown()
    line = Line.objects.for_list().get(pk=line.pk)
    if not line.is_out or on < yard_day(line.handed_over_at or at):
        raise AlreadyStoodDown(
            "Only a cart that is out can be stood down, for a day of its hire.", field="on"
        )
    if StandDown.objects.filter(line=line, on=on).exists():
        raise AlreadyStoodDown(f"{line.cart.fleet_number} is stood down for {on:%-d %b} already.", field="on")
    if (earlier := given_up_before(lines, on)) is not None:
        raise GivenUpAlready(
            f"{day_words(on)} of {line.cart.fleet_number} was {given_up_words(earlier)}. Stood down besides, it would be credited "
            "twice: leave it as it is."
        )
    told_at = told.told_at or at
    if told_at > at:
        raise ToldLater("That is still to come. Give the time at which the yard was told.", field="told_at")
    said = vars(told) | {"told_at": told_at}
    row = StandDown(
        line=line, on=on, kind=kind, why=why, told_by_words=told_by_words, made_at=at, made_by=by, **said
    )
    row.save(force_insert=True)
    write_journal(
        event=Event.STOOD_DOWN,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        at=at,
        facts={"on": on, "kind": kind, "why": why, "told_by": told_by_words} | said,
    )
    return row
