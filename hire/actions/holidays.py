"""Days the yard adds to the public holidays, or strikes from them."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction

from hire.models.holidays import YardDay
from hire.public_holidays import yard_holidays
from people.journal.actions import YARD, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK, MANAGERS


class DayDecided(Refusal):
    """The yard has decided about the day already, or there is nothing to decide."""

    field = "on"


def _check(by: Staff) -> None:
    if not by.has_role(MANAGERS | DESK):
        raise NotAllowed("The hire desk and managers say which days are holidays.")


@transaction.atomic
def decide_day(*, on: date, kind: str, what: str, by: Staff, at: datetime) -> YardDay:
    """Add a day to the yard's public holidays ("added"), or strike one of the calendar's ("struck"). NotAllowed; DayDecided."""
    _check(by)
    is_holiday = on in yard_holidays(first=on, last=on)
    if is_holiday == (kind == "added"):
        words = (
            "is a public holiday already"
            if is_holiday
            else "is no public holiday: there is nothing to strike"
        )
        raise DayDecided(f"{on:%-d %b %Y} {words}.")
    day = YardDay(on=on, kind=kind, what=what, made_at=at, made_by=by)
    try:
        with transaction.atomic():
            day.save(force_insert=True)
    except IntegrityError as error:
        raise DayDecided(f"{on:%-d %b %Y} was decided already. Take that back first.") from error
    _write(Event.HOLIDAY_DECIDED, day, by=by, at=at)
    return day


@transaction.atomic
def take_day_back(*, day: YardDay, by: Staff, at: datetime) -> YardDay:
    """The calendar counts again for the day. Taken back twice, nothing changes. NotAllowed."""
    _check(by)
    day = YardDay.objects.select_for_update(of=("self",)).get(pk=day.pk)
    if day.ended_at is None:
        day.ended_at = at
        day.save(update_fields=["ended_at"])
        _write(Event.HOLIDAY_TAKEN_BACK, day, by=by, at=at)
    return day


def _write(event: Event, day: YardDay, *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event, subject=("yard_day", day.pk), chains=[YARD], by=by, at=at,
        facts={"on": day.on, "kind": day.kind, "what": day.what},
    )  # fmt: skip
