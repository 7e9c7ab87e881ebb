"""For which shift a cart on hire owes its pre-start: the hire's own days and hours, and what says whether the cart was used.

A hire worked by day alone has one shift a day, the calendar day of its own zone. One worked by night alone has the night's,
one worked day and night both, twelve hours apart; a pre-start signed within the hour before a shift begins is that shift's.
It may be signed at any time of its shift, at first use. Common practice, no source.

A shift of the hire's week owes one unless a meter proves that the cart stood. A day off (none of the week, a public holiday,
stood down) owes one only where something proves that the cart was used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hire.cart_use import Read, Span, stood, used

DAY, DAY_AND_NIGHT = 1, 2
# The shifts of a day by their numbers, as an operator is put down for one, by how a hire is worked.
DAY_SHIFT, NIGHT_SHIFT = 1, 2
WORKED = {"day": (DAY_SHIFT,), "night": (NIGHT_SHIFT,), "both": (DAY_SHIFT, NIGHT_SHIFT)}
# How far back a shift is owed and shown.
LOOK_BACK = timedelta(days=14)
EARLY = timedelta(hours=1)
HALF_DAY = timedelta(hours=12)
BY_DAY, BY_NIGHT = "day shift", "night shift"


@dataclass(frozen=True)
class Hours:
    """When the shifts of a hire are. by: the hour by which the day's pre-start is wanted, the night's twelve hours later.
    second_at: when the night shift begins, the day's twelve hours earlier; it counts only where there is a night shift. is_night:
    the one shift is the night's."""

    zone: ZoneInfo
    shifts_a_day: int
    by: time
    second_at: time
    is_night: bool = False


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
    if hours.shifts_a_day == DAY and not hours.is_night:
        return (Shift(on, "", _local(on, time.min, hours.zone), due),)
    starts = _local(on, hours.second_at, hours.zone, later=-EARLY)
    night = Shift(on, BY_NIGHT, starts, _local(on, hours.by, hours.zone, later=HALF_DAY))
    if hours.is_night:
        return (night,)
    day = _local(on, hours.second_at, hours.zone, later=-HALF_DAY - EARLY)
    return (night, Shift(on, BY_DAY, day, due))


def working_hours(on: date, hours: Hours, *, is_night: bool) -> tuple[datetime, datetime]:
    """From when to when a shift that begins on a day is worked, half-open: the day itself where the hire has one."""
    if hours.shifts_a_day == DAY and not hours.is_night:
        return _local(on, time.min, hours.zone), _local(on + timedelta(days=1), time.min, hours.zone)
    change = _local(on, hours.second_at, hours.zone)
    if is_night or hours.is_night:
        return change, _local(on, hours.second_at, hours.zone, later=HALF_DAY)
    return _local(on, hours.second_at, hours.zone, later=-HALF_DAY), change


def hours_left(notice: datetime, on: date, hours: Hours) -> timedelta | None:
    """From a notice to the end of a day's work, none after it; None: it came before that day's work began, so that all of it is
    lost. A hire by day alone is taken to work the twelve hours before `second_at`. Common practice, no source."""
    change = _local(on, hours.second_at, hours.zone)
    is_by_day = hours.shifts_a_day == DAY and not hours.is_night
    starts = change if hours.is_night else _local(on, hours.second_at, hours.zone, later=-HALF_DAY)
    ends = change if is_by_day else _local(on, hours.second_at, hours.zone, later=HALF_DAY)
    return None if notice <= starts else max(ends - notice, timedelta(0))


@dataclass(frozen=True)
class Work:
    """What a hire agreed to work, and what is on record of its cart.

    since: how far back the record was read; no shift before is looked at. days_in_week: so many from Monday on. signed: when its
    pre-starts were. used_at: moments at which the cart was used for certain, like a load of water put down. worked_on: days that
    somebody says it worked, of two shifts the day's.
    """

    hours: Hours
    handed_over_at: datetime | None
    since: datetime
    days_in_week: int = 7
    holidays: frozenset[date] = frozenset()
    stood_down: frozenset[date] = frozenset()
    signed: tuple[datetime, ...] = ()
    reads: tuple[Read, ...] = ()
    used_at: tuple[datetime, ...] = ()
    worked_on: frozenset[date] = frozenset()
    # When the work was changed; before: its hours until then, None where it owed us nothing. Shifts begun by then are as before.
    changed_at: datetime | None = None
    before: Hours | None = None

    def shifts_on(self, on: date) -> tuple[Shift, ...]:
        """The shifts that begin on a day, the latest first, as the work was then."""
        now, changed_at = shifts_on(on, self.hours), self.changed_at
        if changed_at is None:
            return now
        was = shifts_on(on, self.before) if self.before else ()
        return (
            *(one for one in now if one.starts_at > changed_at),
            *(one for one in was if one.starts_at <= changed_at),
        )

    def day_off(self, on: date) -> str:
        """Why the hire does not work on a day; "" when it does."""
        if on in self.stood_down:
            return "stood down"
        if on in self.holidays:
            return "a public holiday"
        return "none of its days" if on.weekday() >= self.days_in_week else ""


@dataclass(frozen=True)
class Owed:
    """A shift that owes its pre-start. why: of a day off, what says that the cart was used. is_signed: it has one."""

    shift: Shift
    why: str = ""
    is_signed: bool = False


@dataclass(frozen=True)
class _Begun:
    """A shift that has begun, with its time until the next."""

    shift: Shift
    span: Span

    def holds(self, moments: tuple[datetime, ...]) -> bool:
        return any(self.span.starts_at <= moment < self.span.ends_at for moment in moments)


def _begun(work: Work, *, at: datetime) -> Iterator[_Begun]:
    """The shifts begun by `at` that were looked at, the latest first, down to the one the cart was handed over in, which has its
    gate-out check."""
    assert work.handed_over_at
    on, ends = at.astimezone(work.hours.zone).date(), datetime.max.replace(tzinfo=UTC)
    first = max(work.handed_over_at, work.since)
    while _local(on + timedelta(days=1), time.max, work.hours.zone) > first:
        for shift in work.shifts_on(on):
            if shift.starts_at <= first:
                return
            if shift.starts_at <= at:
                yield _Begun(shift, Span(shift.starts_at, ends, shift.due_at))
            ends = shift.starts_at
        on -= timedelta(days=1)


def owed_shifts(work: Work, *, at: datetime) -> list[Owed]:
    """The shifts begun by `at` that owe a pre-start, the latest first, whether its hour has passed or not."""
    if work.handed_over_at is None:
        return []
    work = _known_by(work, at=at)
    begun = list(_begun(work, at=at))
    signed = {one.shift for one in begun if one.holds(work.signed)}
    known = {one.shift: why for one in begun if one.shift not in signed and (why := _known_use(work, one))}
    free = [
        one
        for one in begun
        if work.day_off(one.shift.on) and one.shift not in known and one.shift not in signed
    ]
    by_meter = used(work.reads, [one.span for one in free])
    known |= {one.shift: by_meter[one.span] for one in free if one.span in by_meter}
    found = []
    for one in begun:
        is_off, is_signed = bool(work.day_off(one.shift.on)), one.shift in signed
        is_worked = is_signed or one.shift in known
        if is_worked or not (is_off or stood(work.reads, one.span)):
            found.append(Owed(one.shift, known.get(one.shift, "") if is_off else "", is_signed))
    return found


def _known_by(work: Work, *, at: datetime) -> Work:
    """Without what happened later."""
    return replace(
        work,
        signed=tuple(moment for moment in work.signed if moment <= at),
        used_at=tuple(moment for moment in work.used_at if moment <= at),
        reads=tuple(one for one in work.reads if one.at <= at),
    )


def _known_use(work: Work, one: _Begun) -> str:
    """What says, beside the meters, that the cart was used in a shift; "" when nothing does."""
    if one.holds(work.used_at):
        return "a load of water was put down"
    is_by_day = work.hours.shifts_a_day == DAY or one.shift.words == BY_DAY
    return "it is on record as worked" if is_by_day and one.shift.on in work.worked_on else ""


def last_owed_shift(work: Work, *, at: datetime) -> Owed | None:
    """The latest shift whose pre-start should have been signed by now, its hour passed. None when none is owed.

    It never becomes "not owed" by midnight: until this shift's hour has passed, the one before is still the one owed.
    """
    owed = owed_shifts(work, at=at)
    return next((one for one in owed if one.shift.due_at <= at), None)


def running_shift(work: Work, *, at: datetime) -> Shift | None:
    """The shift that runs now, when it owes a pre-start, signed or not."""
    if work.handed_over_at is None:
        return None
    now, owed = next(_begun(work, at=at), None), next(iter(owed_shifts(work, at=at)), None)
    return owed.shift if now and owed and owed.shift == now.shift else None


def lapsed_shifts(work: Work, *, at: datetime) -> list[Owed]:
    """The shifts whose pre-start was owed by now and that have none signed before the next shift began, the
    latest first."""
    owed = owed_shifts(work, at=at)
    return [one for one in owed if one.shift.due_at <= at and not one.is_signed]
