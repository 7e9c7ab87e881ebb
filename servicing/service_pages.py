"""What the screens show of services that come round: a cart's panel, and one service with its working and history."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404

from fleet.models.carts import Cart
from people.templatetags.screen import day_year, quantity
from people.yard import yard_day
from servicing.models.plans import ServiceDone, ServiceDue, ServicePlan, Visit
from servicing.service_due import Meters, meters_now, passed_line, unknown_words, used_words

UNITS = {"engine_hours": "h", "km": "km"}


@dataclass(frozen=True)
class DueRow:
    """One service of a cart: shape is the sign of how it stands, stands its words."""

    row: ServiceDue
    shape: str
    stands: str
    used: str
    when: str


def when_words(row: ServiceDue) -> str:
    """The day it falls due, with its spread: "about 14 Dec 2026 (9 Dec 2026 to 22 Dec 2026)"."""
    if row.on is None:
        return "no day: too little is known of its use"
    if row.trigger == "months" or row.on_low == row.on_high:
        return day_year(row.on)
    latest = f"to {day_year(row.on_high)}" if row.on_high else "or later"
    return f"about {day_year(row.on)} ({day_year(row.on_low)} {latest})"


def due_row(row: ServiceDue, meters: Meters, *, at: datetime) -> DueRow:
    today = yard_day(at)
    if passed_line(row, "stop", meters, today):
        shape, stands = ("stop" if row.plan.stops else "caution"), "past its tolerance"
    elif passed_line(row, "due", meters, today):
        shape, stands = "caution", "due now"
    elif row.state == "unknown":
        shape, stands = "caution", f"cannot be reckoned: {unknown_words(row, meters)}"
    elif row.state == "soon":
        shape, stands = "watch", "soon"
    else:
        shape, stands = "safe", "not due"
    return DueRow(row, shape, stands, used_words(row, meters), when_words(row))


def panel(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """The services of a cart, soonest first, and its booked workshop days. Three queries."""
    rows = list(
        ServiceDue.objects.filter(cart=cart).select_related("plan").order_by("on_low", "on", "plan__name")
    )
    meters = meters_now([cart.pk], at=at) if rows else {}
    return {
        "rows": [due_row(row, meters, at=at) for row in rows],
        "visits": list(
            Visit.objects.filter(cart=cart, cancelled_at=None, on__gte=yard_day(at)).select_related(
                "booked_by"
            )
        ),
    }


def _interval_words(plan: ServicePlan) -> str:
    parts = [
        f"{plan.engine_hours} engine hours" if plan.engine_hours else "",
        f"{plan.km:,} km" if plan.km else "",
        f"{plan.months} month{'s' if plan.months > 1 else ''}" if plan.months else "",
    ]
    return " or ".join(part for part in parts if part)


def interval_words(plan: ServicePlan) -> str:
    """Its interval as said: "500 engine hours or 12 months, 10 % over at most"."""
    return f"{_interval_words(plan)}, {plan.tolerance_pct} % over at most"


def _inputs(row: ServiceDue, meters: Meters) -> list[tuple[str, str, str]]:
    last = "the last one on record" if row.done_id else "none is on record: counted from the first readings"
    rows = [("Counts from", day_year(row.last_on), last)]
    for kind, label in (("engine_hours", "Engine hours"), ("km", "Odometer")):
        due = getattr(row, f"due_{kind}")
        if due is None:
            continue
        unit, rate = UNITS[kind], getattr(row, "hours_per_day" if kind == "engine_hours" else "km_per_day")
        stands_in = row.done is not None and getattr(row.done, kind) is None
        rows += [
            (
                f"{label} then",
                quantity(getattr(row, f"last_{kind}"), unit),
                "not written down: the first reading since" if stands_in else "",
            ),
            (f"{label} now", quantity(meters.get((row.cart_id, kind)), unit), ""),
            (
                f"{label}: due at",
                quantity(due, unit),
                f"stays past {quantity(getattr(row, f'stop_{kind}'), unit)}",
            ),
            (
                f"{label} a day",
                f"{rate:.1f} {unit}" if rate is not None else "not known",
                "typical of the last 60 days",
            ),
        ]
    if row.due_on:
        rows.append(("By the calendar", day_year(row.due_on), f"stays after {day_year(row.stop_on)}"))
    return rows


RULE = (
    "Whichever measure is used up first. A promised day ahead counts as a hire day, any other as a day of the last two months "
    "did on average. The spread is the middle half of the weeks read."
)


def due_page(due_id: UUID, *, at: datetime) -> dict[str, Any]:
    """One service of one cart as it stands, with its working, its tasks and what was done. Http404."""
    row = get_object_or_404(ServiceDue.objects.select_related("cart", "plan", "done"), pk=due_id)
    meters = meters_now([row.cart_id], at=at)
    done = ServiceDone.objects.filter(cart=row.cart, plan__name=row.plan.name).select_related(
        "by", "within__plan", "struck_by"
    )
    return {
        "page_title": f"{row.plan.name}, {row.cart.fleet_number}",
        "cart": row.cart,
        "plan": row.plan,
        "line": due_row(row, meters, at=at),
        "inputs": _inputs(row, meters),
        "rule": RULE,
        "source": f"{row.plan.get_set_by_display()}’s interval: {interval_words(row.plan)}."
        + (
            f" {row.plan.source_words}."
            if row.plan.source_words
            else " Where it is written is not on record."
        ),
        "done": list(done[:20]),
        "all_done": done,
    }


PLAN_HEAD = (
    "Service",
    "Cart",
    "Make",
    "Model",
    "Engine hours",
    "Km",
    "Months",
    "Over, %",
    "Stops the cart",
    "Whose",
    "Written in",
    "Minutes",
)


def plan_table(plans: Iterable[ServicePlan]) -> Iterator[tuple[object, ...]]:
    for plan in plans:
        yield (
            plan.name, plan.cart.fleet_number if plan.cart else "", plan.make, plan.model, plan.engine_hours, plan.km,
            plan.months, plan.tolerance_pct, plan.stops, plan.get_set_by_display(), plan.source_words, plan.minutes,
        )  # fmt: skip
