"""The alert that a run is not ready for its driver although the yard's hour for the sheet has passed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.alerts.rules import Condition
from fleet.sentences import clock_words, moment_words
from fleet.yards import Yards
from hire.charging.money import joined
from hire.runs import DAY, LONGEST_CLOSED, leaving, sheet_due
from people.roles import Role
from people.yard import yard_day


def run_sheets_open(at: datetime) -> Iterator[Condition]:
    """Carts that leave on a day whose sheet is due, and lack a driver, a start or a contact. Two queries."""
    today = yard_day(at)
    for run in leaving(today, today + LONGEST_CLOSED * DAY, yards=Yards()):
        due_at = sheet_due(yard_day(run.at))
        if run.line is None or not run.urgent or due_at > at or run.at <= at:
            continue
        lacks = joined([f"no {name}" for name in run.urgent])
        yield Condition(
            subject_kind="hire_line",
            subject_id=run.line.pk,
            cart_id=run.line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{run.cart} leaves {moment_words(run.at, at=at)}, and its run has {lacks}.",
            how_we_know=f"The run sheet was to be whole at {clock_words(due_at)}: {run.customer}, {run.place}.",
            if_not="Its driver sets out without knowing when, or whom to ask for.",
            due_at=run.at,
            act="Fill in its run",
        )
