"""From when a hire owes us pre-starts, and by which shifts: as its work is now, and as it was before that was changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from hire.models.agreements import Agreement, Line
from hire.promises import hours_of, owed_from
from hire.shifts import Hours, Shift, lapsed_shifts, last_owed_shift


@dataclass(frozen=True)
class Owing:
    """A time in which pre-starts are owed to us: of shifts begun after `start` and before `end`, null: still."""

    hours: Hours
    start: datetime
    end: datetime | None = None


def owings(line: Line) -> list[Owing]:
    """The times of a hire that has left, the latest first (its agreement loaded). Of what it was before only the last is known."""
    about, left_at = line.agreement, line.handed_over_at
    if left_at is None:
        return []
    start = owed_from(left_at, about.owed_since)
    found = [] if about.pre_start_book != "ours" else [Owing(_hours(about, about.shifts_a_day), start)]
    if about.ours_before and start > left_at:
        found.append(Owing(_hours(about, about.shifts_before), left_at, start))
    return found


def _hours(about: Agreement, shifts: int) -> Hours:
    return hours_of(about.time_zone, shifts)


def last_owed(line: Line, *, stood_down: frozenset[date], at: datetime) -> Shift | None:
    """The latest shift whose pre-start should have been signed by now; a change of the work makes none of before it good."""
    for one in owings(line):
        until = min(at, one.end) if one.end else at
        shift = last_owed_shift(one.hours, handed_over_at=one.start, stood_down=stood_down, at=until)
        if shift is not None:
            return shift
    return None


def lapsed(
    line: Line, *, stood_down: frozenset[date], signed: list[datetime], since: datetime, at: datetime
) -> list[Shift]:
    """The shifts begun since `since` that owed a pre-start by now and have none, the latest first. A shift that ran when the
    work was changed is owed as it was."""
    found: list[Shift] = []
    for one in owings(line):
        shifts = lapsed_shifts(
            one.hours, handed_over_at=one.start, stood_down=stood_down, signed=signed, since=since, at=at
        )
        found += [shift for shift in shifts if one.end is None or shift.starts_at <= one.end]
    return found
