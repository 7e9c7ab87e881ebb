"""On which day a cart comes to the workshop for what falls due: one that costs no booking, or what must give.

Rules, common practice, no source: what falls due within two weeks of each other is one visit; the best day is the last
working day, free of hires and with time left in the workshop, before the first of it may fall due.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

TOGETHER_DAYS = 14
# How far a day is looked for when the date has passed already.
LOOK_AHEAD_DAYS = 56


@dataclass(frozen=True)
class Job:
    """One thing that falls due. due_on: the earliest day it may; latest_on: the last day it may still wait (its tolerance);
    both the same where nothing gives."""

    key: str
    due_on: date
    latest_on: date
    minutes: int


@dataclass(frozen=True)
class Stay:
    """Days on which a cart is promised or out, from `first` to `last`, both counted. `last` None: until it is back."""

    first: date
    last: date | None
    label: str
    is_out: bool

    def covers(self, on: date) -> bool:
        return self.first <= on and (self.last is None or on <= self.last)


@dataclass(frozen=True)
class DayFor:
    """The day suggested for a visit.

    kind: "free" (costs no booking), "late" (free, and past the first due day but within what it may wait), "past" (free,
    and too late for something: it stays in the yard till then), "gives" (no free day: `gives` are the hires in the way,
    `on` the last working day before it falls due, when one of them gives or a fitter goes out), "none" (no day at all).
    """

    kind: str
    on: date | None
    jobs: tuple[Job, ...]
    gives: tuple[Stay, ...] = ()

    @property
    def minutes(self) -> int:
        return sum(job.minutes for job in self.jobs)


def together(jobs: Iterable[Job]) -> list[tuple[Job, ...]]:
    """Jobs of one cart as visits, first due first: each takes in what falls due within two weeks of its first job."""
    visits: list[list[Job]] = []
    for job in sorted(jobs, key=lambda one: (one.due_on, one.key)):
        if visits and job.due_on <= visits[-1][0].due_on + timedelta(days=TOGETHER_DAYS):
            visits[-1].append(job)
        else:
            visits.append([job])
    return [tuple(visit) for visit in visits]


def working_days(first: date, last: date, *, closed: frozenset[date] = frozenset()) -> list[date]:
    """Monday to Friday from first to last, both counted, but for days the yard is closed."""
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in days if day.weekday() < 5 and day not in closed]


def suggest_day(
    visit: Sequence[Job],
    *,
    stays: Sequence[Stay],
    on: date,
    taken_minutes: Mapping[date, int],
    day_minutes: int,
    closed: frozenset[date] = frozenset(),
) -> DayFor:
    """The day for one visit (jobs of one cart), given its hires and how many minutes each day has taken already.

    on: today. day_minutes: what the workshop has in a day; a visit longer than a whole day may have an empty one.
    ValueError without a job.
    """
    if not visit:
        raise ValueError("A visit has at least one job.")
    jobs, need = tuple(visit), sum(job.minutes for job in visit)
    due_on, latest_on = min(job.due_on for job in jobs), min(job.latest_on for job in jobs)

    def is_free(day: date) -> bool:
        return not any(stay.covers(day) for stay in stays)

    def has_time(day: date) -> bool:
        taken = taken_minutes.get(day, 0)
        return taken + need <= day_minutes or taken == 0

    before = working_days(on, due_on, closed=closed)
    best = [day for day in before if is_free(day) and has_time(day)]
    if best:
        return DayFor("free", best[-1], jobs)
    after = working_days(max(on, due_on + timedelta(days=1)), latest_on, closed=closed)
    later = [day for day in after if is_free(day) and has_time(day)]
    if later:
        return DayFor("late", later[0], jobs)
    if latest_on < on:
        ahead = working_days(on, on + timedelta(days=LOOK_AHEAD_DAYS), closed=closed)
        free = [day for day in ahead if is_free(day) and has_time(day)]
        return DayFor("past", free[0], jobs) if free else _gives(jobs, ahead, stays)
    return _gives(jobs, before or after, stays)


def _gives(jobs: tuple[Job, ...], days: Sequence[date], stays: Sequence[Stay]) -> DayFor:
    """No free day: the last of these, and the hires that stand on it."""
    if not days:
        return DayFor("none", None, jobs)
    on = days[-1]
    return DayFor("gives", on, jobs, tuple(stay for stay in stays if stay.covers(on)))
