"""Wet hire: the cart with its operator, charged by the signed daily docket."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from hire.charging.days import Days
from hire.charging.facts import Docket, Hire
from hire.charging.lines import Line, line_of
from hire.charging.money import cents, day_words, exact, money, number
from hire.charging.terms import WetTerms

SUNDAY = 6


def docket_lines(hire: Hire, terms: WetTerms, days: Days) -> tuple[list[Line], list[str]]:
    """The lines of the dockets up to the last day charged, and a note for each that is not charged."""
    lines: list[Line] = []
    notes: list[str] = []
    for docket in sorted(hire.dockets, key=lambda each: (each.on, each.number)):
        if docket.on < days.first or (docket.on > days.last and days.is_last):
            notes.append(
                f"Docket {docket.number} is not charged: {day_words(docket.on)} is outside the hire."
            )
        elif docket.on > days.last:
            continue
        elif not docket.is_signed:
            notes.append(f"Docket {docket.number} is not charged: nobody signed it.")
        else:
            lines += _lines(docket, hire, terms)
    return lines, notes


def _lines(docket: Docket, hire: Hire, terms: WetTerms) -> Iterator[Line]:
    loading, why = _loading(docket.on, hire.holidays, terms, is_night=docket.is_night)
    label, day = f"docket {docket.number}", day_words(docket.on)
    said = f"{number(docket.hours)} h on the docket"
    if docket.cancelled_late:
        said = f"cancelled late, the minimum of {number(terms.minimum_hours)} h"
    elif docket.hours < terms.minimum_hours:
        said += f", the minimum is {number(terms.minimum_hours)}"
    ordinary, *overtime = _parts(docket.hours, loading, why, terms)
    working = f"{label}, {said}: {ordinary.words}"
    yield line_of(label, f"Cart and operator, {day}", ordinary.hours, "hour", ordinary.price, working=working)
    for over in overtime:
        after = terms.overtime_after or ordinary.hours
        working = f"{label}, after {number(after)} h: {over.words}"
        yield line_of(
            f"{label} overtime", f"Overtime, {day}", over.hours, "hour", over.price, working=working
        )
    for part in _travel(docket.travel_hours, terms):
        working = f"{label}: {number(part.hours)} h × {money(part.price)}"
        yield line_of(f"{label} travel", f"Travel, {day}", part.hours, "hour", part.price, working=working)


@dataclass(frozen=True, slots=True)
class _Part:
    """Hours of a day at one price. words: "2 × 165.00 × 1.5 overtime"."""

    hours: Decimal
    price: Decimal
    words: str


def _parts(hours: Decimal, loading: Decimal, why: str, terms: WetTerms) -> Iterator[_Part]:
    """What a day of so many hours worked is charged as: the hours of an ordinary day, then those of overtime. Hours of the minimum
    that nobody worked are never overtime."""
    charged = max(hours, terms.minimum_hours)
    over = Decimal(0) if terms.overtime_after is None else max(hours - terms.overtime_after, Decimal(0))
    yield _part(charged - over, loading, why, terms)
    if over:
        greater, reason = max((loading, why), (terms.overtime, "overtime"), key=lambda each: each[0])
        yield _part(over, greater, reason, terms)


def _travel(hours: Decimal, terms: WetTerms) -> Iterator[_Part]:
    """The way to the cart and back; no part where there is none, or it is not charged."""
    if hours and terms.travel_price:
        yield _Part(hours, terms.travel_price, f"{number(hours)} × {money(terms.travel_price)} travel")


def _part(hours: Decimal, loading: Decimal, why: str, terms: WetTerms) -> _Part:
    times = f" × {number(loading)} {why}" if loading > 1 else ""
    return _Part(hours, terms.hour_price * loading, f"{number(hours)} × {money(terms.hour_price)}{times}")


def _loading(
    on: date, holidays: Collection[date], terms: WetTerms, *, is_night: bool = False
) -> tuple[Decimal, str]:
    """The greatest loading of the day, and for what."""
    found = [(Decimal(1), "")]
    if on in holidays:
        found.append((terms.holiday, "public holiday"))
    if on.weekday() == SUNDAY:
        found.append((terms.sunday, "Sunday"))
    if is_night:
        found.append((terms.night, "night"))
    return max(found, key=lambda each: each[0])


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What days of wet hire come to. hours: charged of each docket; sums: "5 days × 8 × 165.00 = 6,600.00", dockets of one price
    together, those by night after those by day; amounts: of each of these."""

    total: Decimal
    hours: Decimal
    sums: tuple[str, ...]
    amounts: tuple[Decimal, ...] = ()


def foreseen(
    days: Iterable[date],
    *,
    hours: Decimal,
    terms: WetTerms,
    holidays: Collection[date] = (),
    nights: Iterable[date] = (),
    travel_hours: Decimal = Decimal(0),
) -> Foreseen:
    """What a docket by day for each of these days, and by night for each of these nights, comes to, as signed ones are charged,
    each of so many hours worked, the minimum at least, and so many travelled. ValueError for hours below zero."""
    exact(hours, "The hours of a day")
    exact(travel_hours, "The hours of travel")
    travel = list(_travel(travel_hours, terms))
    amounts, sums = [], []
    for is_night, dates in ((False, days), (True, nights)):
        alike = Counter(_loading(on, holidays, terms, is_night=is_night) for on in dates)
        for (loading, why), count in sorted(alike.items(), key=lambda each: each[0][0]):
            parts = [*_parts(hours, loading, why, terms), *travel]
            # Each line of a docket is rounded by itself.
            amount = count * sum((cents(part.hours * part.price) for part in parts), Decimal(0))
            words = " + ".join(part.words for part in parts)
            words = f"({words})" if len(parts) > 1 and count > 1 else words
            one = "night" if is_night else "day"
            sums.append(f"{f'{count} {one}s × ' if count > 1 else f'1 {one}: '}{words} = {money(amount)}")
            amounts.append(amount)
    total = sum(amounts, Decimal("0.00"))
    return Foreseen(total, max(hours, terms.minimum_hours), tuple(sums), tuple(amounts))
