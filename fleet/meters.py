"""How much a cart is used, from its meter readings: by calendar day, and apart for days on hire and days idle.

Readings are (day, value) of one meter kind, in any order; a reading counts from its own day on. What a rate
foretells is a guess from the past: a meter that nobody reads, or a hire unlike the last, makes it wrong.
"""

import itertools
import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

Number = int | float | Decimal
# Half-open; an end of None is not known yet.
Period = tuple[date, date | None]
_Point = tuple[date, float]

# No meter gains more in a day: a loaded cart does not keep up 100 km/h round the clock. Common practice, no source.
MOST_PER_DAY = 2400.0
# A week is the shortest round of work and rest, so spreads are told of weeks, never of days.
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Spread:
    """A rate a day, and the quartiles of its weeks (`low`, `high`); under two weeks both are the rate itself."""

    rate: float
    low: float
    high: float
    days: int

    @property
    def is_thin(self) -> bool:
        return self.days < 2 * _WEEK


@dataclass(frozen=True, slots=True)
class UsageSplit:
    """Use a hire day and use an idle day; None where no day of that kind was read. `basis` says what it rests on."""

    per_hire_day: Spread | None
    per_idle_day: Spread | None
    hire_days: int
    idle_days: int
    basis: str


@dataclass(frozen=True, slots=True)
class _Step:
    """What the meter gained from one reading to the next, within one meter."""

    starts_on: date
    days: int
    gain: float
    hire_days: int

    @property
    def kind(self) -> str:
        if self.hire_days == self.days:
            return "hire"
        return "mixed" if self.hire_days else "idle"


def usage_per_day(
    readings: Iterable[tuple[date, Number]],
    *,
    on: date,
    window_days: int = 60,
    most_per_day: float = MOST_PER_DAY,
) -> float | None:
    """Use a calendar day over the `window_days` up to `on`, or None under two readings.

    Each reading's median slope to the others, and the median of those (repeated medians): half the readings but
    one may be absurd. A drop, or a rise faster than `most_per_day` (an hour meter: 24), is a change of meter and
    parts the readings; the parts are reckoned alone and averaged by their days. One reading that its neighbours
    agree without is left out. With a single reading in the window, the last one before it joins it; with none
    there, nothing is known. Readings after `on` do not count.

    ValueError for a reading below zero or no number, or a window or ceiling not above zero.
    """
    pieces = _pieces(_in_window(readings, on=on, window_days=window_days), most_per_day)
    rates = [(_slope(piece), (piece[-1][0] - piece[0][0]).days) for piece in pieces]
    days = sum(span for _, span in rates)
    return sum(rate * span for rate, span in rates) / days if days else None


def usage_split(
    readings: Iterable[tuple[date, Number]],
    *,
    on: date,
    hire_days: Iterable[Period],
    window_days: int = 60,
    most_per_day: float = MOST_PER_DAY,
) -> UsageSplit:
    """Use a hire day and an idle day over the window, each with its spread.

    hire_days: half-open periods of days, any order, an end of None for a hire still out. Runs of readings that
    lie wholly on hire (or wholly idle) are reckoned as `usage_per_day` does. Days between two readings that are
    partly both count only where no run is pure: what is left after the idle rate (zero while that is unknown) is
    the hire's. basis: "readings" | "shared readings" (hire days only known from such days) | "hire only" |
    "idle only" | "too few".

    ValueError as `usage_per_day`, and for a period that ends before it begins.
    """
    periods = merged(hire_days)
    points = _in_window(readings, on=on, window_days=window_days)
    runs = [run for piece in _pieces(points, most_per_day) for run in _runs(_steps(piece, periods))]
    of_kind = {kind: [run for run in runs if run[0].kind == kind] for kind in ("hire", "idle", "mixed")}
    idle = _spread(of_kind["idle"])
    hire = _spread(of_kind["hire"])
    shared = hire is None and bool(of_kind["mixed"])
    if shared:
        hire = _spread([_hire_share(run, idle.rate if idle else 0.0) for run in of_kind["mixed"]])
    return UsageSplit(
        per_hire_day=hire,
        per_idle_day=idle,
        hire_days=hire.days if hire else 0,
        idle_days=idle.days if idle else 0,
        basis=_basis(hire, idle, shared=shared),
    )


def per_calendar_day(
    readings: Sequence[tuple[date, Number]],
    split: UsageSplit,
    *,
    on: date,
    window_days: int = 60,
    most_per_day: float = MOST_PER_DAY,
) -> float | None:
    """Use a calendar day with hire and idle days by their number, where both were read; else as `usage_per_day` says.

    A cart is read daily on hire and seldom in the yard: a median of its readings alone takes every day for a hire day.
    """
    hire, idle = split.per_hire_day, split.per_idle_day
    if hire is None or idle is None:
        return usage_per_day(readings, on=on, window_days=window_days, most_per_day=most_per_day)
    return (hire.rate * hire.days + idle.rate * idle.days) / (hire.days + idle.days)


def rate_ahead(
    amount: float, *, on: date, per_hire_day: float, per_idle_day: float, hires: Iterable[Period]
) -> float:
    """The even rate a day that uses up `amount` at the same instant as walking the hire calendar from `on` does.

    Hand it to a forecast that takes one rate: amount / rate is the days until it is used up. Zero when it never
    is; the rate of the first day when `amount` is not above zero.

    ValueError for a rate below zero, or a period that ends before it begins.
    """
    if per_hire_day < 0 or per_idle_day < 0:
        raise ValueError("A rate of use is not below zero.")
    left, today, periods = float(amount), on, merged(hires)
    if left <= 0:
        return per_hire_day if _days_on_hire(on, on + timedelta(1), periods) else per_idle_day
    for starts_on, ends_on in periods:
        for rate, until in ((per_idle_day, starts_on), (per_hire_day, ends_on)):
            if until is not None and until <= today:
                continue
            span = math.inf if until is None else (until - today).days
            if rate and rate * span >= left:
                return float(amount) / ((today - on).days + left / rate)
            if until is None:
                return 0.0
            left, today = left - rate * span, until
    return float(amount) / ((today - on).days + left / per_idle_day) if per_idle_day else 0.0


def merged(periods: Iterable[Period]) -> list[Period]:
    """The same days as half-open periods in order that neither overlap nor touch."""
    joined: list[Period] = []
    for starts_on, ends_on in sorted(periods, key=lambda period: period[0]):
        if ends_on is not None and ends_on < starts_on:
            raise ValueError("A period ends before it begins.")
        if joined and (joined[-1][1] is None or starts_on <= joined[-1][1]):
            before = joined[-1]
            later = None if before[1] is None or ends_on is None else max(before[1], ends_on)
            joined[-1] = (before[0], later)
        elif ends_on != starts_on:
            joined.append((starts_on, ends_on))
    return joined


def _in_window(readings: Iterable[tuple[date, Number]], *, on: date, window_days: int) -> list[_Point]:
    if window_days <= 0:
        raise ValueError("A window is one day or more.")
    points = sorted(
        ((day, _value(value)) for day, value in readings if day <= on), key=lambda point: point[0]
    )
    first_on = on - timedelta(window_days)
    inside = [point for point in points if point[0] >= first_on]
    if len(inside) == 1 and len(points) > 1:
        return points[-2:]
    return inside


def _value(value: Number) -> float:
    number = float(value)
    if not math.isfinite(number) or number < 0:
        raise ValueError(f"{value} is no meter reading.")
    return number


def _pieces(points: Sequence[_Point], most_per_day: float) -> list[list[_Point]]:
    """The readings of each meter alone, each piece two readings or more over at least a day."""
    if not most_per_day > 0:
        raise ValueError("The most a meter gains in a day is above zero.")
    pieces: list[list[_Point]] = []
    for point in _without_strays(points):
        if pieces and _follows(pieces[-1][-1], point, most_per_day):
            pieces[-1].append(point)
        else:
            pieces.append([point])
    return [piece for piece in pieces if piece[-1][0] > piece[0][0]]


def _without_strays(points: Sequence[_Point]) -> list[_Point]:
    kept: list[_Point] = []
    for index, point in enumerate(points):
        before = kept[-1][1] if kept else None
        after = points[index + 1][1] if index + 1 < len(points) else None
        agree = before is not None and after is not None and before <= after
        if not (agree and not before <= point[1] <= after):  # type: ignore[operator]
            kept.append(point)
    return kept


def _follows(before: _Point, after: _Point, most_per_day: float) -> bool:
    # A day's slack: two readings of one day may lie a day's work apart.
    return 0 <= after[1] - before[1] <= most_per_day * ((after[0] - before[0]).days + 1)


def _slope(piece: Sequence[_Point]) -> float:
    medians = []
    for day, value in piece:
        slopes = [(other - value) / (then - day).days for then, other in piece if then != day]
        medians.append(statistics.median(slopes))
    return statistics.median(medians)


def _steps(piece: Sequence[_Point], periods: Sequence[Period]) -> list[_Step]:
    last_of_day = list({day: (day, value) for day, value in piece}.values())
    return [
        _Step(
            starts_on=start,
            days=(end - start).days,
            gain=after - before,
            hire_days=_days_on_hire(start, end, periods),
        )
        for (start, before), (end, after) in itertools.pairwise(last_of_day)
    ]


def _runs(steps: Iterable[_Step]) -> list[list[_Step]]:
    runs: list[list[_Step]] = []
    for step in steps:
        if runs and step.kind == runs[-1][-1].kind != "mixed":
            runs[-1].append(step)
        else:
            runs.append([step])
    return runs


def _hire_share(run: Sequence[_Step], idle_rate: float) -> list[_Step]:
    step = run[0]
    gain = max(step.gain - idle_rate * (step.days - step.hire_days), 0.0)
    return [_Step(starts_on=step.starts_on, days=step.hire_days, gain=gain, hire_days=step.hire_days)]


def _spread(runs: Sequence[Sequence[_Step]]) -> Spread | None:
    days = sum(step.days for run in runs for step in run)
    if not days:
        return None
    rate = sum(_slope(_points_of(run)) * sum(step.days for step in run) for run in runs) / days
    by_day = [step.gain / step.days for run in runs for step in run for _ in range(step.days)]
    weeks = [statistics.fmean(by_day[at : at + _WEEK]) for at in range(0, days - _WEEK + 1, _WEEK)]
    if len(weeks) < 2:
        return Spread(rate=rate, low=rate, high=rate, days=days)
    low, _, high = statistics.quantiles(weeks, n=4, method="inclusive")
    return Spread(rate=rate, low=min(low, rate), high=max(high, rate), days=days)


def _points_of(run: Sequence[_Step]) -> list[_Point]:
    points = [(run[0].starts_on, 0.0)]
    for step in run:
        day, value = points[-1]
        points.append((day + timedelta(step.days), value + step.gain))
    return points


def _days_on_hire(start: date, end: date, periods: Sequence[Period]) -> int:
    return sum(
        max(((end if ends_on is None else min(end, ends_on)) - max(start, starts_on)).days, 0)
        for starts_on, ends_on in periods
    )


def _basis(hire: Spread | None, idle: Spread | None, *, shared: bool) -> str:
    if hire is None:
        return "too few" if idle is None else "idle only"
    if shared:
        return "shared readings"
    return "readings" if idle is not None else "hire only"
