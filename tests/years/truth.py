"""What must be told on a day, and what may be, worked out from the yard's own truth and from nothing of the application's rules.

Where a date is fixed (extinguisher, paper, a cart not back, a meter unread) the two are the same set. Where it is forecast
(services, tyres) what must be told is what has come, and what may be told is what truly comes soon.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from dateutil.relativedelta import relativedelta

from fleet.models.equipment import Document, Extinguisher
from people.yard import yard_day
from servicing.models.plans import ServiceDone, ServiceDue
from tests.years.yard import Yard

Told = tuple[str, UUID]
# AS 1851-2012, FE-50 and FE-51 (VERIFIED-S): months, and which services stand for which.
AU = {
    "routine_6_month": (6, {"routine_6_month", "routine_12_month", "pressure_test"}),
    "routine_12_month": (12, {"routine_12_month", "pressure_test"}),
    "pressure_test": (60, {"pressure_test"}),
}
LEAD = timedelta(days=30)
# Two weeks ahead, a week of wandering before it clears, and as much again for a pace that is itself a guess.
SOON_DAYS, GUESS = 21, 2.0
# Three weeks ahead and ten days of wandering, and the gauge's own half millimetre either way.
TYRE_DAYS, GAUGE_MM = 31, 1.0
CHANGE_OUT = {"steer": Decimal("4.0"), "other": Decimal("3.0")}


def extinguisher_due(item: Extinguisher) -> tuple[date, str]:
    """The soonest service and its day, by the reference library's calendar."""
    done = [(one.kind, one.on) for one in item.services.all()]
    dues = []
    for kind, (months, counts) in AU.items():
        last = max((on for word, on in done if word in counts), default=item.made_on)
        dues.append((last + relativedelta(months=months), kind))
    return min(dues)


def extinguishers(on: date) -> set[Told]:
    items = Extinguisher.objects.filter(cart__isnull=False).prefetch_related("services")
    return {
        ("servicing.extinguisher_due", item.pk) for item in items if extinguisher_due(item)[0] - on <= LEAD
    }


def papers(on: date) -> set[Told]:
    newest: dict[UUID | None, Document] = {}
    for paper in Document.objects.order_by("expires_on"):
        newest[paper.cart_id] = paper
    return {
        ("fleet.paper_lapses", one.pk)
        for one in newest.values()
        if one.expires_on and one.expires_on - on <= LEAD
    }


def meters(yard: Yard, at: datetime) -> Iterator[Told]:
    for works in yard.works:
        if works.is_out and works.line and works.read_at:
            since = max(works.read_at, works.line.promised.lower)
            if at - since > timedelta(days=7):
                yield ("fleet.meter_unread", works.cart.pk)


def returns(yard: Yard, at: datetime) -> Iterator[Told]:
    for works in yard.works:
        if works.is_out and works.line and works.line.promised.upper < at - timedelta(hours=2):
            yield ("hire.return_overdue", works.line.pk)


def tyres(yard: Yard, at: datetime) -> tuple[set[Told], set[Told]]:
    """(must, may): read under the change-out depth; and within a millimetre of it, or truly worn down to it within weeks."""
    must, may = set(), set()
    for works in yard.works:
        pace = works.pace * 12 / 1000 * works.wear
        for fitting_id, place in works.place.items():
            read, limit = works.least_read[fitting_id], CHANGE_OUT[place]
            told = ("servicing.tyre_due", fitting_id)
            if read and min(read) < limit:
                must.add(told)
            left = works.depth[fitting_id] - float(limit)
            if (read and min(read) < limit + 1) or left <= pace * TYRE_DAYS * GUESS + GAUGE_MM:
                may.add(told)
    return must, may


def services(yard: Yard, at: datetime) -> tuple[set[Told], set[Told]]:
    """(must, may): the interval used up by what was read or by the calendar; and truly so within some weeks."""
    must, may, on = set(), set(), yard_day(at)
    named = {(row.cart_id, row.plan.name): row.pk for row in ServiceDue.objects.select_related("plan")}
    done = ServiceDone.objects.filter(done_at__lte=at).order_by("done_at").select_related("plan")
    latest = {(one.cart_id, one.plan.name): one for one in done}
    for works in yard.works:
        for plan in yard.plans:
            last = latest[works.cart.pk, plan.name]
            assert last.engine_hours is not None
            left = float(last.engine_hours + (plan.engine_hours or 0) - works.read_hours)
            by_month = yard_day(last.done_at) + relativedelta(months=plan.months or 0)
            told = ("servicing.service_due", named[works.cart.pk, plan.name])
            if left <= 0 or on >= by_month:
                must.add(told)
            if left <= works.pace * SOON_DAYS * GUESS or (by_month - on).days <= SOON_DAYS:
                may.add(told)
    return must, may
