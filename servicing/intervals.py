"""When a service next falls due, by engine hours, kilometres or months, whichever comes first.

The maker's manual stands over every interval kept here, and what is seen or heard on the cart stands over both.
"""

import calendar
import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

Number = int | float | Decimal

MEASURES = ("engine_hours", "km", "months")
# From the lightest to the worst.
STATES = ("ok", "soon", "due", "overdue")


@dataclass(frozen=True, slots=True)
class Interval:
    """How often a service is done. A measure that is None does not count; `tolerance` is a fraction of the interval.

    ValueError when no measure is given, when one is not above zero, or when the tolerance is below zero.
    """

    engine_hours: Number | None = None
    km: Number | None = None
    months: int | None = None
    tolerance: Number = 0.1

    def __post_init__(self) -> None:
        given = [value for value in (self.engine_hours, self.km, self.months) if value is not None]
        if not given:
            raise ValueError("An interval needs engine hours, kilometres or months.")
        if any(_exact(value, "interval") <= 0 for value in given):
            raise ValueError("An interval is above zero.")
        if _exact(self.tolerance, "tolerance") < 0:
            raise ValueError("A tolerance is not below zero.")
        if self.months is not None and self.months != int(self.months):
            raise ValueError("Months are whole.")


@dataclass(frozen=True, slots=True)
class Mark:
    """A day and what the meters showed on it; None where nobody read one."""

    on: date
    engine_hours: Number | None = None
    km: Number | None = None


@dataclass(frozen=True, slots=True)
class MeasureDue:
    """One measure of one service: `interval`, `used` and `remaining` in its own unit (hours, km; months: days).

    `on` is None when no day can be told; `on_low` and `on_high` are the same day at the high and at the low rate.
    """

    measure: str
    interval: float
    used: float
    remaining: float
    state: str
    on: date | None
    on_low: date | None
    on_high: date | None


@dataclass(frozen=True, slots=True)
class Due:
    """The day a service falls due, the measure that brings it (`trigger`) and how it stands (`state`).

    `on_low` is the earliest and `on_high` the latest day of the spread; `on_high` is None when at the low rate
    no day comes. `measures` are the inputs, one each, in the order engine_hours, km, months.
    """

    on: date | None
    trigger: str | None
    state: str
    on_low: date | None
    on_high: date | None
    measures: tuple[MeasureDue, ...]


def add_months(on: date, months: int) -> date:
    """The same day of the month, `months` on, or that month's last day where it has none (31 Aug + 6: 28 Feb)."""
    months_from_year_0 = on.year * 12 + on.month - 1 + months
    year, month = divmod(months_from_year_0, 12)
    last_day = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(on.day, last_day))


def next_due(
    *,
    interval: Interval,
    last: Mark,
    now: Mark,
    hours_per_day: Number | None,
    km_per_day: Number | None,
    soon_days: int = 14,
    hours_per_day_low: Number | None = None,
    hours_per_day_high: Number | None = None,
    km_per_day_low: Number | None = None,
    km_per_day_high: Number | None = None,
) -> Due:
    """The next day of a service last done at `last`, for a cart that stands at `now`.

    Rates are engine hours and km a calendar day, None where unknown; low and high rates give the spread, and a
    rate without them has none. Day of a meter: now.on + floor(remaining / rate), in the past when passed; a rate
    of zero or None gives no day, but what is used still counts. Day of months: last.on + months, clamped to the
    month's end. Due when used >= interval; overdue when used > interval x (1 + tolerance), for months counted in
    the days from last.on to the due day; soon when its day is at most `soon_days` away. A meter unread in `last`
    or `now` is left out. `state` is the worst measure, `trigger` the earliest (ties in the order of MEASURES).

    ValueError for a meter or a day that runs backwards (measure from the change of the meter), a rate below zero,
    rates out of order, or what is no number.
    """
    if now.on < last.on:
        raise ValueError("The service was done after the day asked about.")
    hours = _Rates.checked(hours_per_day, hours_per_day_low, hours_per_day_high)
    km = _Rates.checked(km_per_day, km_per_day_low, km_per_day_high)
    asked = _Asked(interval, last, now, soon_days)
    measures = (
        *_by_meter("engine_hours", asked, hours),
        *_by_meter("km", asked, km),
        *_by_months(asked),
    )
    dated = [(measure.on, measure.measure) for measure in measures if measure.on is not None]
    on, trigger = min(dated, key=lambda pair: pair[0], default=(None, None))
    return Due(
        on=on,
        trigger=trigger,
        state=max((measure.state for measure in measures), key=STATES.index, default="ok"),
        on_low=min((day.on_low for day in measures if day.on_low is not None), default=None),
        on_high=min((day.on_high for day in measures if day.on_high is not None), default=None),
        measures=measures,
    )


@dataclass(frozen=True, slots=True)
class _Rates:
    mid: Fraction | None
    low: Fraction | None
    high: Fraction | None

    @classmethod
    def checked(cls, mid: Number | None, low: Number | None, high: Number | None) -> "_Rates":
        rate = None if mid is None else _exact(mid, "rate")
        slow = rate if low is None else _exact(low, "rate")
        fast = rate if high is None else _exact(high, "rate")
        given = [each for each in (slow, rate, fast) if each is not None]
        if any(each < 0 for each in given):
            raise ValueError("A rate of use is not below zero.")
        if given != sorted(given):
            raise ValueError("The low rate is the least and the high rate the greatest.")
        return cls(rate, slow, fast)


@dataclass(frozen=True, slots=True)
class _Asked:
    interval: Interval
    last: Mark
    now: Mark
    soon_days: int

    def state(self, used: Fraction, whole: Fraction, on: date | None) -> str:
        if used > whole * (1 + _exact(self.interval.tolerance, "tolerance")):
            return "overdue"
        if used >= whole:
            return "due"
        return "soon" if on is not None and (on - self.now.on).days <= self.soon_days else "ok"


def _by_meter(measure: str, asked: _Asked, rates: _Rates) -> Iterator[MeasureDue]:
    length = getattr(asked.interval, measure)
    before, after = getattr(asked.last, measure), getattr(asked.now, measure)
    if length is None or before is None or after is None:
        return
    whole = _exact(length, "interval")
    used = _exact(after, "reading") - _exact(before, "reading")
    if used < 0:
        raise ValueError(
            "The meter shows less than at the last service: measure from the change of the meter."
        )
    left = whole - used
    on = _day(asked.now.on, left, rates.mid)
    at_high, at_low = _day(asked.now.on, left, rates.high), _day(asked.now.on, left, rates.low)
    # Used up already: at the low rate it was so longest ago, and at none at all nobody can say since when.
    on_low, on_high = (at_high, at_low) if left >= 0 else (at_low or on, at_high)
    yield MeasureDue(
        measure=measure,
        interval=float(whole),
        used=float(used),
        remaining=float(left),
        state=asked.state(used, whole, on),
        on=on,
        on_low=on_low,
        on_high=on_high,
    )


def _by_months(asked: _Asked) -> Iterator[MeasureDue]:
    if asked.interval.months is None:
        return
    start = asked.last.on
    on = add_months(start, int(asked.interval.months))
    whole, used = Fraction((on - start).days), Fraction((asked.now.on - start).days)
    yield MeasureDue(
        measure="months",
        interval=float(whole),
        used=float(used),
        remaining=float(whole - used),
        state=asked.state(used, whole, on),
        on=on,
        on_low=on,
        on_high=on,
    )


def _day(today: date, remaining: Fraction, rate: Fraction | None) -> date | None:
    if not rate:
        return None
    days = math.floor(remaining / rate)
    # A cart that hardly moves: past the calendar there is no day to name.
    return (
        today + timedelta(days)
        if date.min.toordinal() <= today.toordinal() + days <= date.max.toordinal()
        else None
    )


def _exact(value: Number, what: str) -> Fraction:
    """The number as it was written: 0.1 is a tenth, so that a floor or a boundary is never a rounding away."""
    try:
        return Fraction(str(value))
    except ValueError as unreadable:
        raise ValueError(f"{value!r} is not a number to use as {what}.") from unreadable
