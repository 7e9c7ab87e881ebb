"""Wet hire: the cart with its operator, charged by the signed daily docket."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from hire.charging.days import Days
from hire.charging.facts import Docket, Hire
from hire.charging.lines import Line, line_of
from hire.charging.money import day_words, money, number
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
    charged = max(docket.hours, terms.minimum_hours)
    ordinary = charged if terms.overtime_after is None else min(charged, terms.overtime_after)
    loading, why = _loading(docket, hire, terms)
    label = f"docket {docket.number}"
    day = day_words(docket.on)
    said = f"{number(docket.hours)} h on the docket"
    if docket.cancelled_late:
        said = f"cancelled late, the minimum of {number(terms.minimum_hours)} h"
    elif docket.hours < terms.minimum_hours:
        said += f", the minimum is {number(terms.minimum_hours)}"
    said += f": {number(ordinary)} × {money(terms.hour_price)}{_times(loading, why)}"
    yield line_of(
        label,
        f"Cart and operator, {day}",
        ordinary,
        "hour",
        terms.hour_price * loading,
        working=f"{label}, {said}",
    )
    if charged > ordinary:
        over = charged - ordinary
        greater, reason = max((loading, why), (terms.overtime, "overtime"), key=lambda each: each[0])
        working = f"{label}, after {number(ordinary)} h: {number(over)} × {money(terms.hour_price)}{_times(greater, reason)}"
        yield line_of(
            f"{label} overtime", f"Overtime, {day}", over, "hour", terms.hour_price * greater, working=working
        )
    if docket.travel_hours and terms.travel_price:
        working = f"{label}: {number(docket.travel_hours)} h × {money(terms.travel_price)}"
        yield line_of(
            f"{label} travel",
            f"Travel, {day}",
            docket.travel_hours,
            "hour",
            terms.travel_price,
            working=working,
        )


def _loading(docket: Docket, hire: Hire, terms: WetTerms) -> tuple[Decimal, str]:
    """The greatest loading of the day, and for what."""
    found = [(Decimal(1), "")]
    if docket.on in hire.holidays:
        found.append((terms.holiday, "public holiday"))
    if docket.on.weekday() == SUNDAY:
        found.append((terms.sunday, "Sunday"))
    if docket.is_night:
        found.append((terms.night, "night"))
    return max(found, key=lambda each: each[0])


def _times(loading: Decimal, why: str) -> str:
    return f" × {number(loading)} {why}" if loading > 1 else ""
