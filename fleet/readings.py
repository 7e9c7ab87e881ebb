"""Does a reading fit its neighbours? The rules, and the words of the doubt; what is done about one is in actions.readings."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from fleet.models.carts import Meter
from people.yard import yard_day

Point = tuple[datetime, Decimal]

# Gauges repeat to about half a millimetre; a depth may lie a millimetre over the new depth on record, for the rib
# chosen and the mould. Common practice, no source.
GAUGE_REPEAT_MM = Decimal("0.5")
OVER_NEW_MM = Decimal("1.0")
# A whole day's slack for a clock set wrong and readings written up late.
SLACK = timedelta(hours=24)
# No loaded cart keeps this up; it only catches a figure too many. Common practice, no source.
KM_PER_HOUR_MOST = Decimal(100)

# The widest value the columns hold: no meter shows as much.
MOST = Decimal("999999999.9")
METER_WORDS = dict(Meter.KINDS)
_UNITS = {"engine_hours": "h", "pump_hours": "h", "km": "km"}


def meter_subject(kind: str) -> str:
    return f"meter {kind}"


def tread_subject(position_code: str) -> str:
    return f"tread {position_code}"


def subject_words(subject: str) -> str:
    """A question's subject for the screen: "Engine hours", "Tread at 2LO"."""
    what, _, which = subject.partition(" ")
    return METER_WORDS.get(which, which) if what == "meter" else f"Tread at {which}"


def _on(moment: datetime) -> str:
    # Judged long after it was read, so a day is named by its date and year.
    day = yard_day(moment)
    return f"{day.day} {day:%b %Y}"


def most_rise(kind: str, span: timedelta) -> Decimal:
    """The most a meter can rise in a span: an hour meter no faster than the clock, an odometer no faster than a truck,
    each with a day's slack."""
    hours = Decimal((span + SLACK) // timedelta(minutes=6)) / 10
    return hours * KM_PER_HOUR_MOST if kind == "km" else hours


def meter_doubt(
    kind: str, value: Decimal, *, read_at: datetime, before: Point | None, after: Point | None
) -> str:
    """Why a meter reading does not fit the readings before and after it (instant, value); "" when it fits."""
    unit = _UNITS[kind]
    if not value.is_finite() or value < 0 or value >= MOST:
        return f"{value} {unit} was read: no meter shows that. Which figure is right?"
    if before is not None and value < before[1]:
        return (
            f"{value} {unit} was read, lower than {before[1]} on {_on(before[0])}. "
            "Was the meter changed, or was one of the two misread?"
        )
    if after is not None and value > after[1]:
        return (
            f"{value} {unit} was read, higher than {after[1]} on {_on(after[0])}, which is later. "
            "Which of the two was misread?"
        )
    if before is not None and value - before[1] > most_rise(kind, read_at - before[0]):
        return (
            f"{value} {unit} was read, {value - before[1]} more than on {_on(before[0])}: more than the time between "
            "allows. Is there a figure too many?"
        )
    return ""


def tread_doubt(
    depth_mm: Decimal, *, new_depth_mm: Decimal, before: Point | None, after: Point | None
) -> str:
    """Why a depth does not fit its tyre and the readings before and after it (instant, mm); "" when it fits."""
    if not depth_mm.is_finite() or depth_mm < 0:
        return f"{depth_mm} mm was read: no tread is that deep. What does the gauge say?"
    if depth_mm > new_depth_mm + OVER_NEW_MM:
        return (
            f"{depth_mm} mm was read, but this tyre had {new_depth_mm} mm when new. "
            "Was it misread, or is another tyre fitted?"
        )
    if before is not None and depth_mm > before[1] + GAUGE_REPEAT_MM:
        return (
            f"{depth_mm} mm was read, deeper than {before[1]} mm on {_on(before[0])}. "
            "Was one of the two misread, or is another tyre fitted?"
        )
    if after is not None and depth_mm < after[1] - GAUGE_REPEAT_MM:
        return (
            f"{depth_mm} mm was read, less than {after[1]} mm on {_on(after[0])}, which is later. "
            "Which of the two was misread?"
        )
    return ""
