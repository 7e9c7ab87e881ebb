"""Daily dockets as they are read: what of them is charged, and for which days none came. Reads only, many at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q

from hire.charges import Docket
from hire.daily_days import days_without
from hire.models.agreements import Line, StandDown
from hire.models.daily import DailyDocket
from hire.models.off_hire import OffHire
from hire.owed_facts import ONE_DAY, Out, weeks_of
from hire.public_holidays import holidays_by_region
from hire.shifts import WORKED

# A hire that is back is asked after for so long; what is older is settled. Common practice, no source.
ASKED_FOR = timedelta(days=31)


def charged_dockets(line: Line) -> list[Docket]:
    """The dockets that stand, as a hire is charged by them."""
    return [as_charged(one) for one in line.daily_dockets.standing().select_related("signature")]


def as_charged(one: DailyDocket) -> Docket:
    """A docket, its signature loaded, as a hire is charged by it."""
    return Docket(
        one.number,
        one.on,
        one.hours,
        one.travel_hours,
        is_night=one.is_night,
        cancelled_late=one.cancelled_late,
        is_signed=one.is_signed,
    )


@dataclass(frozen=True)
class Missing:
    """A day of a wet hire without a docket; shift: "day" or "night" where the hire has both."""

    line: Line
    on: date
    shift: str


def wet_lines(*, at: datetime) -> list[Line]:
    """Wet hires that are out, or not long back. One query."""
    rows = Line.objects.filter(wet__isnull=False, handed_over_at__isnull=False)
    return list(rows.filter(Q(back_at=None) | Q(back_at__gt=at - ASKED_FOR)).for_list())


def _spans(line: Line, zone: ZoneInfo, *, last: date) -> list[tuple[date, date, int]]:
    """First day, last day and shifts a day of a hire that left: the day on which those were changed counts as it was before."""
    about, left_at = line.agreement, line.handed_over_at
    assert left_at
    first, shifts = left_at.astimezone(zone).date(), about.shifts_a_day
    changed = about.owed_since.astimezone(zone).date() if about.owed_since else first
    before = len(WORKED[about.shift_before])
    if about.owed_since is None or about.owed_since <= left_at or before == shifts:
        return [(first, last, shifts)]
    return [(first, min(changed, last), before), (changed + timedelta(days=1), last, shifts)]


def missing_days(lines: Iterable[Line], *, at: datetime) -> list[Missing]:
    """The days up to yesterday, where the cart works, for which no docket came, the newest first: its week and its holidays are
    those its pre-starts go by. Six queries."""
    lines = list(lines)
    ids = [line.pk for line in lines]
    have: defaultdict[UUID, set[tuple[date, bool]]] = defaultdict(set)
    for line_id, on, is_night in (
        DailyDocket.objects.standing().filter(line__in=ids).values_list("line", "on", "is_night")
    ):
        have[line_id].add((on, is_night))
    stood: defaultdict[UUID, set[date]] = defaultdict(set)
    for line_id, on in StandDown.objects.standing().filter(line__in=ids).values_list("line", "on"):
        stood[line_id].add(on)
    left = [line.handed_over_at for line in lines if line.handed_over_at]
    if not left:
        return []
    weeks = weeks_of([Out.of(line) for line in lines])
    kept = holidays_by_region(
        (week.region for week in weeks.values()), first=min(left).date() - ONE_DAY, last=at.date() + ONE_DAY
    )
    off = dict(OffHire.objects.standing().filter(line__in=ids).values_list("line", "called_at"))
    found = []
    for line in lines:
        if line.handed_over_at is None:
            continue
        zone = ZoneInfo(line.agreement.time_zone)
        ended = min((when for when in (line.back_at, off.get(line.pk)) if when), default=at)
        yesterday = at.astimezone(zone).date() - ONE_DAY
        for first, last, shifts in _spans(line, zone, last=min(yesterday, ended.astimezone(zone).date())):
            days = days_without(
                first=first, last=last, in_week=weeks[line.pk].days, shifts_a_day=shifts,
                off=stood[line.pk].union(kept[weeks[line.pk].region]), have=have[line.pk],
            )  # fmt: skip
            found += [Missing(line, on, shift) for on, shift in days]
    return sorted(found, key=lambda one: one.on, reverse=True)
