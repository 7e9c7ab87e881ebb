"""What the clocks of a cart say of its days outside the week: that it worked on one, or that it cannot be told.

Nobody guesses. A day counts as worked when the clock gained more than there was time for in all the rest between its two readings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from hire.charging.money import day_words, exact, joined, number

ONE_DAY = timedelta(days=1)
MICROSECONDS_IN_HOUR = 3_600_000_000
# A clock shows tenths, cut off: what it gained is known to a tenth of an hour.
SHOWN_TO = Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class Advance:
    """What one clock gained between two readings, one after the other. clock: "engine" or "pump". out_from, out_until: when its
    cart was on the hire (None: it is still)."""

    clock: str
    since: datetime
    until: datetime
    hours: Decimal
    out_from: datetime
    out_until: datetime | None = None

    def __post_init__(self) -> None:
        exact(self.hours, "What a clock gained")

    def span(self) -> tuple[datetime, datetime]:
        """From when to when of it the cart was on the hire, in UTC."""
        since, until = (at.astimezone(UTC) for at in (self.since, self.until))
        ends = until if self.out_until is None else min(until, self.out_until.astimezone(UTC))
        return max(since, self.out_from.astimezone(UTC)), ends


def days_proven(advances: Sequence[Advance], zone: ZoneInfo) -> dict[date, Advance]:
    """The days on which the cart worked for certain, each with the first advance that says so."""
    found: dict[date, Advance] = {}
    for advance in advances:
        for on in _days(advance, zone):
            if _proves(advance, on, zone):
                found.setdefault(on, advance)
    return found


def days_unsure(
    advances: Sequence[Advance], days: Sequence[date], zone: ZoneInfo
) -> list[tuple[list[date], Advance]]:
    """Of these days those on which a clock may have run, with the first advance that says so."""
    found, left = [], set(days)
    for advance in advances:
        maybe = [on for on in _days(advance, zone) if on in left]
        if maybe:
            found.append((maybe, advance))
            left -= set(maybe)
    return found


def _proves(advance: Advance, on: date, zone: ZoneInfo) -> bool:
    gained, whole = Fraction(advance.hours), _hours(advance.since, advance.until)
    first, last = advance.span()
    elsewhere = whole - _hours(max(first, _midnight(on, zone)), min(last, _midnight(on + ONE_DAY, zone)))
    # More than the whole time has room for is no reading to prove anything by.
    return elsewhere <= gained - SHOWN_TO <= whole


def gained_on(
    advances: Sequence[Advance], on: date, zone: ZoneInfo, *, clock: str
) -> tuple[Fraction, Fraction] | None:
    """At least and at most the hours one clock gained on a day, while its cart was on the hire; one and the same where it is
    certain. None: its readings do not reach round the whole of it, or it gained more than there was time for."""
    least = most = told = Fraction(0)
    whole = Fraction(0)
    for advance in (one for one in advances if one.clock == clock):
        first = max(advance.out_from.astimezone(UTC), _midnight(on, zone))
        last = _midnight(on + ONE_DAY, zone)
        if advance.out_until is not None:
            last = min(last, advance.out_until.astimezone(UTC))
        whole = _hours(first, last)
        inside = _hours(max(first, advance.since.astimezone(UTC)), min(last, advance.until.astimezone(UTC)))
        if inside <= 0:
            continue
        gained, between = Fraction(advance.hours), _hours(advance.since, advance.until)
        if gained > between:
            return None
        told += inside
        least += max(gained - (between - inside), Fraction(0))
        most += min(gained, inside)
    return (least, most) if whole > 0 and told == whole else None


def touches(advance: Advance, on: date, zone: ZoneInfo) -> bool:
    """Whether the two readings are on both sides of some of a day of the hire."""
    first, last = advance.span()
    return max(first, _midnight(on, zone)) < min(last, _midnight(on + ONE_DAY, zone))


def _days(advance: Advance, zone: ZoneInfo) -> Iterator[date]:
    """The days of the hire on which it may have gained."""
    first, last = advance.span()
    if not advance.hours or last <= first:
        return
    on = first.astimezone(zone).date()
    while _midnight(on, zone) < last:
        yield on
        on += ONE_DAY


def _midnight(on: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(on, time.min, tzinfo=zone).astimezone(UTC)


def _hours(since: datetime, until: datetime) -> Fraction:
    """Both in UTC, so that a day of 23 or 25 hours has as many."""
    span = until.astimezone(UTC) - since.astimezone(UTC)
    return Fraction(span // timedelta(microseconds=1), MICROSECONDS_IN_HOUR)


def gained_words(advance: Advance, zone: ZoneInfo) -> str:
    """The advance as it is read out."""
    since, until = (
        f"{day_words(at.date())} {at:%H:%M}"
        for at in (advance.since.astimezone(zone), advance.until.astimezone(zone))
    )
    return f"the {advance.clock} clock gained {number(advance.hours)} h from {since} to {until}"


def unsure_words(days: Sequence[date], advance: Advance, zone: ZoneInfo) -> str:
    """Why days outside the week are not charged though the clock went on."""
    which = "is not charged, being" if len(days) == 1 else "are not charged, being"
    return (
        f"{joined([day_words(on) for on in days])} {which} none of the week, or a free holiday:"
        f" {gained_words(advance, zone)}, and it cannot be told when."
    )
