"""What servicing says of a cart's services and workshop days: past tolerance it stays, due inside the hire it is told.

A stored reckoning names the lines; where the meters stand is asked now, since a cart may have worked on since.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Max, Q

from fleet.models.carts import Cart, MeterReading
from fleet.offered import offered
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from people.roles import MANAGERS, Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day
from servicing.models.plans import ServiceDue, Visit

CLEARED = "Workshop: do the service and record it"
FAR_DAYS = 3650
UNITS = {"engine_hours": "h", "km": "km"}
Meters = Mapping[tuple[UUID, str], Decimal]


def meters_now(carts: Sequence[UUID], *, at: datetime) -> Meters:
    """The last reading of each meter now on these carts, by cart and kind, in one query. A meter only rises."""
    rows = (
        MeterReading.objects.filter(meter__cart__in=carts, meter__removed_at=None, read_at__lte=at)
        .values("meter__cart_id", "meter__kind")
        .annotate(most=Max("value"))
        .values_list("meter__cart_id", "meter__kind", "most")
    )
    return {(cart_id, kind): most for cart_id, kind, most in rows}


def used_words(row: ServiceDue, meters: Meters) -> str:
    """How much of the interval is used, by the measure that brings it: "462 of 500 h"."""
    if row.trigger in UNITS:
        due, last = getattr(row, f"due_{row.trigger}"), getattr(row, f"last_{row.trigger}")
        now = meters.get((row.cart_id, row.trigger), getattr(row, f"now_{row.trigger}"))
        if None not in (due, last, now):
            return f"{now - last:.0f} of {due - last:.0f} {UNITS[row.trigger]} used"
    return f"last done {day_year(row.last_on)}" if row.done_id else f"counted from {day_year(row.last_on)}"


def unknown_words(row: ServiceDue, meters: Meters) -> str:
    """Why it cannot be reckoned: a meter that shows less than at the last service, else one that was never read."""
    for kind, name in (("engine_hours", "engine hours"), ("km", "odometer")):
        last = getattr(row, f"last_{kind}")
        now = meters.get((row.cart_id, kind), getattr(row, f"now_{kind}"))
        if None not in (last, now) and now < last:
            unit, show = UNITS[kind], "shows" if kind == "km" else "show"
            return f"the {name} {show} {now:.0f} {unit}, less than the {last:.0f} {unit} at its last service"
    return "none of the meters it counts by was read"


def passed_line(row: ServiceDue, line: str, meters: Meters, on: date) -> bool:
    """Whether the cart is past a line of this service: "due" (the interval is used up) or "stop" (and its tolerance).

    A line is met by using up the interval, and passed over its tolerance only beyond it, as the rule of intervals says.
    """
    pairs: list[tuple[Any, Any]] = [
        (meters.get((row.cart_id, kind)), getattr(row, f"{line}_{kind}")) for kind in UNITS
    ]
    known = [
        (now, mark) for now, mark in (*pairs, (on, getattr(row, f"{line}_on"))) if None not in (now, mark)
    ]
    return any(now > mark or (line == "due" and now == mark) for now, mark in known)


def stop_day(row: ServiceDue, meters: Meters, on: date) -> date | None:
    """The last day it may wait at the cart's pace, by the first of its measures; in the past once past its tolerance; None
    where no measure gives a day."""
    if passed_line(row, "stop", meters, on):
        return min(row.on or on, on - timedelta(days=1))
    days = [row.stop_on] if row.stop_on else []
    for kind, rate in (("engine_hours", row.hours_per_day), ("km", row.km_per_day)):
        stop, now = getattr(row, f"stop_{kind}"), meters.get((row.cart_id, kind))
        if rate and stop is not None and now is not None:
            # A cart that hardly moves: no plan of weeks looks further.
            days.append(on + timedelta(days=min(int(float(stop - now) / rate), FAR_DAYS)))
    return min(days, default=None)


def further_line(row: ServiceDue, meters: Meters, on: date) -> bool:
    """Whether it is within one further tolerance: as far as a manager may pass it."""
    for kind in UNITS:
        stop, due, now = (
            getattr(row, f"stop_{kind}"),
            getattr(row, f"due_{kind}"),
            meters.get((row.cart_id, kind)),
        )
        if stop is not None and now is not None and now > stop + (stop - due):
            return False
    return row.stop_on is None or row.due_on is None or on <= row.stop_on + (row.stop_on - row.due_on)


def _spread(row: ServiceDue) -> str:
    assert row.on is not None
    if row.trigger == "months" or row.on_low is None or row.on_low == row.on_high:
        return f"{row.on.day} {row.on:%b}"
    if row.on_high is None:
        return f"about {row.on.day} {row.on:%b}, {row.on_low.day} {row.on_low:%b} at the earliest"
    return f"about {row.on.day} {row.on:%b} ({row.on_low.day} {row.on_low:%b} to {row.on_high.day} {row.on_high:%b})"


def _inside(name: str) -> str:
    """A service's name within a sentence: "Grease round" is "grease round", "500-hour service" stays."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def _judged(row: ServiceDue, window: Window, meters: Meters, at: datetime) -> Blocker | Caution | None:
    record, name = Record("service_due", row.pk), row.plan.name
    # What a meter will show at the start nobody knows; what the calendar will, everybody.
    start, end = yard_day(window.start), yard_day(window.end)
    used = used_words(row, meters)
    if row.plan.stops and passed_line(row, "stop", meters, start):
        passable = MANAGERS if further_line(row, meters, start) else frozenset[Role]()
        sentence = f"{name} past its tolerance: {used}."
        return Blocker("service.overdue", sentence, record, MANAGERS, CLEARED, weight=28, passed_by=passable)
    if passed_line(row, "due", meters, start):
        return Caution(
            "service.due",
            f"{name} is due now: {used}.",
            record,
            window.start,
            f"the {_inside(name)} is due",
            40,
        )
    if row.state == "unknown":
        sentence = f"{name} cannot be reckoned: {unknown_words(row, meters)}."
        return Caution("service.unknown", sentence, record, None, "its meters are read or put right", 60)
    if row.on is not None and (row.on_low or row.on) <= end:
        due_at = max(at_local(row.on_low or row.on, time.min), window.start)
        sentence = f"{name} falls due {_spread(row)}: {used}."
        return Caution("service.due", sentence, record, due_at, f"the {_inside(name)}", 40)
    return None


def _visits(carts: Sequence[Cart], windows: Mapping[UUID, Window]) -> list[tuple[UUID, Caution]]:
    span = (min(one.start for one in windows.values()), max(one.end for one in windows.values()))
    rows = Visit.objects.filter(
        cart__in=carts, cancelled_at=None, on__range=(yard_day(span[0]), yard_day(span[1]))
    )
    found = []
    for visit in rows:
        window = windows[visit.cart_id]
        if yard_day(window.start) <= visit.on < max(yard_day(window.end), yard_day(window.start)):
            where = "booked for the workshop" if visit.where == "yard" else "a fitter comes to it on site"
            sentence = f"{visit.on:%A} {visit.on.day} {visit.on:%b}: {where}, {visit.words}."
            due_at = max(at_local(visit.on, time.min), window.start)
            found.append(
                (
                    visit.cart_id,
                    Caution(
                        "visit.booked",
                        sentence,
                        Record("cart", visit.cart_id),
                        due_at,
                        "its workshop day",
                        45,
                    ),
                )
            )
    return found


def service_findings(
    carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime
) -> dict[UUID, Findings]:
    """Four queries however many carts: services near their line, the meters of those carts, offers on site, booked days."""
    latest = max(yard_day(window.end) for window in windows.values())
    near = Q(state__in=["due", "overdue", "unknown"]) | Q(on_low__lte=latest) | Q(on__lte=latest)
    rows = list(ServiceDue.objects.filter(near, cart__in=carts).select_related("plan"))
    meters = meters_now([row.cart_id for row in rows], at=at) if rows else {}
    told = offered({row.cart_id for row in rows}, at=at)
    piles: defaultdict[UUID, list[Blocker | Caution]] = defaultdict(list)
    for row in rows:
        if found := _judged(row, windows[row.cart_id], meters, at):
            # A cart on hire is served on site: whether that was offered, and refused, is said with what falls due.
            said = told.get((row.cart_id, row.plan_id), "")
            piles[row.cart_id].append(replace(found, sentence=f"{found.sentence} {said}") if said else found)
    for cart_id, caution in _visits(carts, windows):
        piles[cart_id].append(caution)
    return {
        cart_id: Findings(
            tuple(one for one in pile if isinstance(one, Blocker)),
            tuple(one for one in pile if isinstance(one, Caution)),
        )
        for cart_id, pile in piles.items()
    }
