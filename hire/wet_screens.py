"""What a hire's page and the gate show of wet hire."""

from __future__ import annotations

from datetime import datetime

from hire.actions.daily import may_write
from hire.daily_facts import missing_days
from hire.daily_screens import daily_rows
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.wet_reading import operator_words, turns_at, wets_of
from people.models import Staff

ROWS_SHOWN = 14


def driven_words(line: Line, *, at: datetime) -> list[str]:
    """Who drives the cart now, or will at the start, with the licence; nothing for a dry hire. Four queries."""
    wet = wets_of([line.pk]).get(line.pk)
    return operator_words(turns_at(wet, at), wet) if wet else []


def wet_context(line: Line, *, by: Staff, at: datetime) -> dict[str, object]:
    """For templates/hire/_wet.html."""
    wet = wets_of([line.pk]).get(line.pk)
    if wet is None:
        return {"wet": None}
    dockets = DailyDocket.objects.standing().filter(line=line).unsigned_first().for_list()
    return {
        "wet": wet,
        "driven": operator_words(turns_at(wet, at), wet),
        "turns": wet.turns,
        "daily": daily_rows(dockets[:ROWS_SHOWN]),
        "missing": missing_days([line], at=at),
        "may_daily": may_write(line, None, by),
    }
