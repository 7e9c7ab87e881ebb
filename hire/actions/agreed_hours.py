"""Hours that the yard and the customer agreed: of a meter that is dead, or signed for where the clock is none of ours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import transaction

from hire.charge_facts import charge_ends_at
from hire.charging.money import day_words, number, span_words
from hire.charging.terms import HOURS_IN_DAY
from hire.models.agreed_hours import AgreedHours
from hire.models.agreements import Line
from hire.swaps import lock_hire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class NotThoseDays(Refusal):
    """No one cart of the hire was out on all of those days."""

    field = "last_on"


class TooManyHours(Refusal):
    """So many days do not have as many hours."""

    field = "hours"


class BothNames(Refusal):
    """Hours are agreed between two people."""

    field = "customer_name"


class AgreedAlready(Refusal):
    """The hours of one of these days are agreed."""

    field = "first_on"


class StruckAlready(Refusal):
    """It is struck out."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down what hours were agreed.")


@transaction.atomic
def agree_hours(
    *,
    line: Line,
    first_on: date,
    last_on: date,
    hours: Decimal,
    how: str,
    yard_name: str,
    customer_name: str,
    words: str,
    by: Staff,
    at: datetime,
) -> AgreedHours:
    """Write down the hours agreed over some days of this hire, with a name of each side. They count in the place of what a meter
    showed on those days; a docket made before is put right by the next.

    NotAllowed; NotThoseDays; TooManyHours; BothNames; AgreedAlready.
    """
    _check(by)
    lines = lock_hire(line)
    days = (last_on - first_on).days + 1
    if days < 1:
        raise NotThoseDays("The last day is before the first. Give the first day first.")
    if hours > days * HOURS_IN_DAY:
        raise TooManyHours(
            f"{span_words(first_on, last_on)} has {days * HOURS_IN_DAY} hours, and {number(hours)} are too many."
        )
    if yard_name.strip().casefold() == customer_name.strip().casefold():
        raise BothNames("Give two names: who agreed it for the yard, and who for the customer.")
    for one in AgreedHours.objects.filter(line__in=lines, struck_at=None):
        if one.first_on <= last_on and one.last_on >= first_on:
            raise AgreedAlready(
                f"{number(one.hours)} h from {span_words(one.first_on, one.last_on)} are agreed already. Strike those out first."
            )
    line = _out_from(lines, first_on, last_on, at=at)
    row = AgreedHours(
        line=line, first_on=first_on, last_on=last_on, hours=hours, how=how, yard_name=yard_name, customer_name=customer_name,
        words=words, made_at=at, made_by=by,
    )  # fmt: skip
    row.save(force_insert=True)
    facts = {
        "first_on": first_on, "last_on": last_on, "hours": hours, "how": how, "yard_name": yard_name,
        "customer_name": customer_name, "words": words,
    }  # fmt: skip
    _write(Event.HOURS_AGREED, line, facts, by=by, at=at)
    return row


def _out_from(lines: Sequence[Line], first_on: date, last_on: date, *, at: datetime) -> Line:
    """The line, of a hire and those it was swapped with, whose cart was out on all of those days. NotThoseDays."""
    zone, about = ZoneInfo(lines[0].agreement.time_zone), lines[0].agreement.number
    out = sorted(((one.handed_over_at, one) for one in lines if one.handed_over_at), key=lambda each: each[0])
    for out_at, one in reversed(out):
        ends = min(filter(None, (charge_ends_at(one), at)))
        if out_at.astimezone(zone).date() <= first_on and last_on <= ends.astimezone(zone).date():
            return one
    if not out:
        raise NotThoseDays(f"{lines[0].cart.fleet_number} has not left on {about}.")
    raise NotThoseDays(
        f"No one cart of {about} was out on all of these days, or they are still to come. The hire began on "
        f"{day_words(out[0][0].astimezone(zone).date())}: give days of it, of a swap for each cart apart."
    )


@transaction.atomic
def strike_hours(*, agreed: AgreedHours, why: str, by: Staff, at: datetime) -> AgreedHours:
    """The hours were not agreed after all: the meter counts again, and the next docket puts right what was charged. NotAllowed;
    StruckAlready."""
    _check(by)
    line = Line.objects.select_for_update(of=("self",)).for_list().get(pk=agreed.line_id)
    agreed = AgreedHours.objects.select_for_update(of=("self",)).get(pk=agreed.pk)
    if agreed.struck_at is not None:
        raise StruckAlready(
            f"The hours of {span_words(agreed.first_on, agreed.last_on)} are struck out already."
        )
    agreed.struck_at, agreed.struck_why = at, why
    agreed.save(update_fields=["struck_at", "struck_why"])
    facts = {"first_on": agreed.first_on, "last_on": agreed.last_on, "hours": agreed.hours, "why": why}
    _write(Event.HOURS_STRUCK, line, facts, by=by, at=at)
    return agreed


def _write(event: Event, line: Line, facts: dict[str, object], *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number} | facts,
    )  # fmt: skip
