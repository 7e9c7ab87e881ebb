"""On which days a cart worked while it was out, and what hours both sides agreed, as far as the records say. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from itertools import chain, groupby, pairwise
from zoneinfo import ZoneInfo

from django.db.models import Q

from fleet.models.carts import MeterReading
from hire.charging.clock import Advance
from hire.charging.facts import AgreedHours as Agreed
from hire.charging.money import day_words, number, span_words
from hire.models.agreed_hours import AgreedHours
from hire.models.agreements import Line
from hire.models.worked_days import WorkedDay
from inspections.models import WalkRound

CLOCK_OF = {"engine_hours": "engine", "pump_hours": "pump"}


def worked_days(line: Line, zone: ZoneInfo, *, until: datetime | None) -> set[date]:
    """The days on record as worked while it was out: a pre-start signed, or a load of water that stands."""
    if line.handed_over_at is None:
        return set()
    walks = WalkRound.objects.filter(cart=line.cart_id, purpose="daily", signed_at__gte=line.handed_over_at)
    loads = line.loads.counted()
    if until is not None:
        walks, loads = walks.filter(signed_at__lt=until), loads.filter(taken_at__lt=until)
    moments = [*walks.values_list("signed_at", flat=True), *loads.values_list("taken_at", flat=True)]
    return {at.astimezone(zone).date() for at in moments}


def said_worked(lines: Sequence[Line], zone: ZoneInfo) -> dict[date, str]:
    """The days a named person says a cart of the hire worked, with who said so and when."""
    rows = WorkedDay.objects.filter(line__in=lines, struck_at=None).order_by("-told_at")
    return {
        row.on: f"told by {row.told_by_words} on {day_words(row.told_at.astimezone(zone).date())}"
        for row in rows
    }


def agreed_hours(lines: Sequence[Line]) -> list[Agreed]:
    """What both sides agreed, with its words as the line of hours over ends with them."""
    rows = AgreedHours.objects.filter(line__in=lines, struck_at=None).order_by("first_on")
    return [
        Agreed(
            row.first_on,
            row.last_on,
            row.hours,
            f"{'meter dead, ' if row.how == 'estimate' else ''}{number(row.hours)} h agreed for "
            f"{span_words(row.first_on, row.last_on)} by {row.yard_name} for the yard and {row.customer_name} for the customer: "
            f"{row.words}",
        )
        for row in rows
    ]


def advances(line: Line, *, until: datetime | None) -> Iterator[Advance]:
    """What the clocks of its cart gained from reading to reading, those just before it left and after its hire ended among them;
    the engine's first."""
    if line.handed_over_at is None:
        return
    rows = MeterReading.objects.filter(meter__cart=line.cart_id, meter__kind__in=CLOCK_OF)
    rows = rows.select_related("meter")
    inside = Q(read_at__gte=line.handed_over_at)
    before = rows.exclude(inside).order_by("meter", "-read_at", "-value").distinct("meter")
    found: Iterable[MeterReading] = chain(before, rows.filter(inside))
    if until is not None:
        after = rows.filter(read_at__gt=until).order_by("meter", "read_at", "value").distinct("meter")
        found = chain(before, rows.filter(inside, read_at__lte=until), after)
    in_order = sorted(found, key=lambda row: (row.meter.kind, row.meter.fitted_at, row.read_at, row.value))
    for _, of_one in groupby(in_order, key=lambda row: row.meter_id):
        for one, other in pairwise(of_one):
            yield Advance(
                CLOCK_OF[one.meter.kind],
                since=one.read_at,
                until=other.read_at,
                hours=other.value - one.value,
                out_from=line.handed_over_at,
                out_until=until,
            )
