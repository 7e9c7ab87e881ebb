"""For which shift a cart on hire owes its pre-start: the hire's own days and hours, stood-down days left out.

A hire worked by day alone has one shift a day, the calendar day of its own zone. One worked day and night has two, twelve
hours apart; a pre-start signed within the hour before a shift begins is that shift's. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY, DAY_AND_NIGHT = 1, 2
LONGEST_LOOK_BACK = 60
EARLY = timedelta(hours=1)
HALF_DAY = timedelta(hours=12)


@dataclass(frozen=True)
class Hours:
    """When the shifts of a hire are. by: the hour by which the day's pre-start is wanted, the night's twelve hours later.
    second_at: when the night shift begins, the day's twelve hours earlier; it counts only for two shifts a day."""

    zone: ZoneInfo
    shifts_a_day: int
    by: time
    second_at: time


@dataclass(frozen=True)
class Shift:
    """on: the hire's own day it begins on. A pre-start signed from `starts_at` on counts for it, wanted by `due_at`."""

    on: date
    words: str
    starts_at: datetime
    due_at: datetime


def _local(on: date, hour: time, zone: ZoneInfo, *, later: timedelta = timedelta(0)) -> datetime:
    """A local time of a day, clock hours later, as an instant."""
    return (datetime.combine(on, hour) + later).replace(tzinfo=zone).astimezone(UTC)


def shifts_on(on: date, hours: Hours) -> tuple[Shift, ...]:
    """The shifts that begin on a day, the latest first."""
    due = _local(on, hours.by, hours.zone)
    if hours.shifts_a_day == DAY:
        return (Shift(on, "", _local(on, time.min, hours.zone), due),)
    night = _local(on, hours.second_at, hours.zone, later=-EARLY)
    day = _local(on, hours.second_at, hours.zone, later=-HALF_DAY - EARLY)
    night_due = _local(on, hours.by, hours.zone, later=HALF_DAY)
    return (Shift(on, "night shift", night, night_due), Shift(on, "day shift", day, due))


def working_hours(on: date, hours: Hours, *, is_night: bool) -> tuple[datetime, datetime]:
    """From when to when a shift that begins on a day is worked, half-open: the day itself where the hire has one."""
    if hours.shifts_a_day == DAY:
        return _local(on, time.min, hours.zone), _local(on + timedelta(days=1), time.min, hours.zone)
    change = _local(on, hours.second_at, hours.zone)
    if is_night:
        return change, _local(on, hours.second_at, hours.zone, later=HALF_DAY)
    return _local(on, hours.second_at, hours.zone, later=-HALF_DAY), change


def _latest_first(hours: Hours, *, at: datetime) -> Iterator[Shift]:
    today = at.astimezone(hours.zone).date()
    for back in range(LONGEST_LOOK_BACK):
        yield from shifts_on(today - timedelta(days=back), hours)


def last_owed_shift(
    hours: Hours, *, handed_over_at: datetime | None, stood_down: frozenset[date], at: datetime
) -> Shift | None:
    """The latest shift whose pre-start should have been signed by now: its hour passed, not stood down, and begun after the
    cart was handed over (the shift it was handed over in has its gate-out check). None when none is owed.

    It never becomes "not owed" by midnight: until this shift's hour has passed, the one before is still the one owed.
    """
    if handed_over_at is None:
        return None
    for shift in _latest_first(hours, at=at):
        if shift.starts_at <= handed_over_at:
            return None
        if shift.on not in stood_down and shift.due_at <= at:
            return shift
    return None


def running_shift(
    hours: Hours, *, handed_over_at: datetime | None, stood_down: frozenset[date], at: datetime
) -> Shift | None:
    """The shift that runs now, when it wants a pre-start: begun after the cart was handed over, and not stood down."""
    if handed_over_at is None:
        return None
    shift = next(shift for shift in _latest_first(hours, at=at) if shift.starts_at <= at)
    return shift if shift.starts_at > handed_over_at and shift.on not in stood_down else None


def lapsed_shifts(
    hours: Hours,
    *,
    handed_over_at: datetime | None,
    stood_down: frozenset[date],
    signed: Sequence[datetime],
    since: datetime,
    at: datetime,
) -> list[Shift]:
    """The shifts begun since `since` whose pre-start was owed by now and that have none signed before the next shift began, the
    latest first. What last_owed_shift says of a shift holds here for each."""
    found: list[Shift] = []
    if handed_over_at is None:
        return found
    ends = datetime.max.replace(tzinfo=UTC)
    for shift in _latest_first(hours, at=at):
        if shift.starts_at <= max(handed_over_at, since):
            return found
        is_owed = shift.on not in stood_down and shift.due_at <= at
        if is_owed and not any(shift.starts_at <= moment < ends for moment in signed):
            found.append(shift)
        ends = shift.starts_at
    return found
