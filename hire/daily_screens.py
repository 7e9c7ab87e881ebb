"""Ready rows for daily dockets: as facts, as a list, as a file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.safestring import SafeString

from hire.charging.money import number
from hire.models.daily import DailyDocket
from inspections.certificates.pictures import strokes_svg

Fact = tuple[str, str, str]
# Written down later than this after the work, both times are shown. Common practice, no source.
LATE_AFTER = timedelta(hours=2)
STATEMENT = "The hours and loads on this docket are right. It is what the hire is charged by."


def _clock(docket: DailyDocket, when: datetime) -> str:
    return when.astimezone(docket.line.agreement.zone).strftime("%H:%M")


def _moment(docket: DailyDocket, when: datetime) -> str:
    return f"{when.astimezone(docket.line.agreement.zone):%-d %b, %H:%M}{docket.line.agreement.mark(when)}"


def late_words(docket: DailyDocket) -> str:
    """Both times, of a docket that was written down later than as the work ended; else nothing."""
    if docket.finishes_at is None:
        made_on = docket.line.agreement.day(docket.made_at)
        return (
            ""
            if made_on == docket.on
            else f"Of {docket.on:%-d %b}, entered {_moment(docket, docket.made_at)}."
        )
    if docket.made_at - docket.finishes_at <= LATE_AFTER:
        return ""
    return f"Finished {_moment(docket, docket.finishes_at)}, entered {_moment(docket, docket.made_at)}."


def hours_words(docket: DailyDocket) -> str:
    if docket.cancelled_late or docket.starts_at is None or docket.finishes_at is None:
        return "Cancelled late, nobody worked"
    mark = docket.line.agreement.mark(docket.finishes_at)
    return f"{_clock(docket, docket.starts_at)} to {_clock(docket, docket.finishes_at)}{mark}, {number(docket.hours)} h"


def signed_words(docket: DailyDocket) -> str:
    if docket.is_signed:
        how = "typed" if docket.signature.kind == "typed" else "drawn"
        return f"{docket.signature.name}, {how}, {_moment(docket, docket.signature.at)}"
    return f"Not signed: {docket.unsigned_why}"


@dataclass(frozen=True)
class DailyRow:
    docket: DailyDocket
    hours: str
    late: str
    signed: str


def daily_rows(dockets: Iterable[DailyDocket]) -> list[DailyRow]:
    return [DailyRow(one, hours_words(one), late_words(one), signed_words(one)) for one in dockets]


def daily_facts(docket: DailyDocket) -> list[Fact]:
    """What a docket says, one fact after the other, as whoever signs it reads it."""
    breaks = int(docket.breaks.total_seconds() // 60)
    facts: list[Fact] = [
        ("Docket", docket.number, late_words(docket)),
        ("Cart", str(docket.line.cart), docket.line.agreement.place_of_work),
        ("Day", f"{docket.on:%A %-d %B %Y}", "Night shift" if docket.is_night else ""),
        ("Operator", str(docket.operator), ""),
        ("Hours", hours_words(docket), f"{breaks} minutes of breaks taken off" if breaks else ""),
    ]
    if docket.overtime_hours:
        facts.append(("Of them overtime", f"{number(docket.overtime_hours)} h", "By the agreed rate"))
    if docket.travel_hours:
        facts.append(("Travel", f"{number(docket.travel_hours)} h", ""))
    if docket.standby_hours:
        facts.append(("Stood by", f"{number(docket.standby_hours)} h", docket.standby_why))
    if not docket.cancelled_late:
        said = (docket.get_water_source_display() if docket.water_source else "", docket.water_words)
        facts.append(("Loads", str(docket.loads), ". ".join(one for one in said if one)))
    if docket.fuel_l:
        facts.append(("Fuel put in", f"{number(docket.fuel_l)} L", ""))
    if docket.words:
        facts.append(("What else", docket.words, ""))
    facts.append(("Signed for the customer", signed_words(docket), ""))
    return facts


def drawing(docket: DailyDocket) -> SafeString | None:
    """The picture of a drawn signature; None for a typed one, and for none."""
    if not docket.is_signed or docket.signature.kind != "drawn":
        return None
    return strokes_svg(json.loads(docket.signature.strokes), name=docket.signature.name)


DAILY_HEAD = (
    "Docket", "Day", "Agreement", "Customer", "Cart", "Operator", "Firm", "Start", "Finish", "Break minutes", "Hours",
    "Overtime hours", "Travel hours", "Night", "Stood by hours", "Why", "Loads", "Water points", "Water", "Fuel L",
    "Cancelled late", "Signed by", "Signed at", "Why not signed", "Replaces", "Why replaced", "Entered", "Entered by",
)  # fmt: skip


def daily_table(dockets: Iterable[DailyDocket]) -> Iterator[Sequence[object]]:
    for one in dockets:
        about, signature = one.line.agreement, one.signature if one.is_signed else None
        yield (
            one.number, one.on, about.number, about.customer.name, one.line.cart.fleet_number, one.operator.own_name,
            one.operator.firm, one.starts_at, one.finishes_at, int(one.breaks.total_seconds() // 60), one.hours,
            one.overtime_hours, one.travel_hours, one.is_night, one.standby_hours, one.standby_why, one.loads, one.water_words,
            one.get_water_source_display() if one.water_source else "", one.fuel_l, one.cancelled_late,
            signature.name if signature else "", signature.at if signature else None, one.unsigned_why,
            one.replaces.number if one.replaces else "", one.replaces_why, one.made_at, one.written_words,
        )  # fmt: skip
