"""Pre-starts kept in a book or system that is not ours: for which weeks a copy is wanted, and what came. Reads only."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q

from hire.models.agreements import Line
from hire.models.copies import PreStartCopy
from hire.models.off_hire import OffHire
from hire.owed_facts import Out, works_of
from hire.querysets import LineQuerySet
from hire.shifts import lapsed_shifts
from people.yard import yard_policy

OURS = "ours"
WEEK = timedelta(days=7)
# How far back a week is asked for. Common practice, no source.
WEEKS_BACK = 8 * WEEK
# A hire that is back is asked for so long; what is older is settled. Common practice, no source.
ASKED_FOR = timedelta(days=31)
# Weeks a form offers.
MOST_WEEKS = 53


@dataclass(frozen=True)
class CopyWeek:
    """One week of a hire. shifts: how many owed a pre-start that nobody signed with us. state: "sent", "none" (none will come),
    "late", "wanted" (the week is over) or "running"."""

    line: Line
    on: date
    shifts: int
    state: str
    late_at: datetime
    pages: tuple[PreStartCopy, ...]

    @property
    def is_missing(self) -> bool:
        return self.state in {"late", "wanted"}

    @property
    def shape(self) -> str:
        """The mark beside it."""
        return {"sent": "safe", "late": "caution"}.get(self.state, "watch")

    @property
    def words(self) -> str:
        return week_words(self.on)


def week_of(on: date) -> date:
    """The Monday of a day's week."""
    return on - timedelta(days=on.weekday())


def week_words(on: date) -> str:
    """The week as it is said: "Monday 30 November to Sunday 6 December"."""
    last = on + WEEK - timedelta(days=1)
    return f"{on:%A %-d %B} to {last:%A %-d %B}"


def copied_lines(*, at: datetime) -> LineQuerySet:
    """Hires with a book or system of their own that are out, or not long back."""
    return (
        Line.objects.filter(handed_over_at__isnull=False)
        .filter(Q(back_at=None) | Q(back_at__gt=at - ASKED_FOR))
        .exclude(agreement__pre_start_book=OURS)
        .for_list()
        .order_by("cart__fleet_number")
    )


def _ended(lines: Iterable[Line], *, at: datetime) -> dict[UUID, datetime]:
    """Up to when each was on hire. One query."""
    lines = list(lines)
    called = dict(OffHire.objects.standing().filter(line__in=lines).values_list("line", "called_at"))
    return {line.pk: min(filter(None, (line.back_at, called.get(line.pk), at))) for line in lines}


def weeks_on_hire(line: Line, *, at: datetime) -> list[date]:
    """The Mondays of the weeks it was on hire, the newest first; none where its pre-starts are kept with us."""
    if line.handed_over_at is None or line.agreement.pre_start_book == OURS:
        return []
    zone = ZoneInfo(line.agreement.time_zone)
    first = week_of(line.handed_over_at.astimezone(zone).date())
    last = week_of(_ended([line], at=at)[line.pk].astimezone(zone).date())
    return [last - n * WEEK for n in range((last - first).days // 7 + 1)][:MOST_WEEKS]


def copy_weeks(lines: Sequence[Line], *, at: datetime) -> dict[UUID, list[CopyWeek]]:
    """The weeks of hires that owed a copy or have one, the newest first, by line id. Twelve queries however many hires. A week in
    which nobody worked, or all was signed with us, owes none."""
    works = works_of([Out.of(line) for line in lines], since=at - WEEKS_BACK, at=at)
    ended = _ended(lines, at=at)
    pages: defaultdict[UUID, defaultdict[date, list[PreStartCopy]]] = defaultdict(lambda: defaultdict(list))
    for page in PreStartCopy.objects.filter(line__in=lines).select_related("by", "link", "photo"):
        pages[page.line_id][page.week_on].append(page)
    found = {}
    for line in lines:
        lapsed = lapsed_shifts(works[line.pk], at=ended[line.pk])
        owed, came = Counter(week_of(one.shift.on) for one in lapsed), pages[line.pk]
        found[line.pk] = [
            _week(line, on, owed[on], came.get(on, []), at=at)
            for on in sorted(owed.keys() | came.keys(), reverse=True)
        ]
    return found


def _week(line: Line, on: date, shifts: int, pages: Sequence[PreStartCopy], *, at: datetime) -> CopyWeek:
    zone = ZoneInfo(line.agreement.time_zone)
    ends, late = (
        datetime.combine(day, time.min, zone)
        for day in (on + WEEK, on + WEEK + timedelta(days=yard_policy().copy_days))
    )
    if any(page.photo_id for page in pages):
        state = "sent"
    elif pages:
        state = "none"
    else:
        state = "late" if at >= late else "wanted" if at >= ends else "running"
    return CopyWeek(line, on, shifts, state, late, tuple(pages))


def missing_weeks(lines: Sequence[Line], *, at: datetime) -> list[CopyWeek]:
    """The weeks that are over and have no copy, the oldest first."""
    weeks = (week for each in copy_weeks(lines, at=at).values() for week in each)
    return sorted(
        (week for week in weeks if week.is_missing), key=lambda week: (week.on, week.line.cart.fleet_number)
    )
