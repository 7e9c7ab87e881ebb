"""Carts at work with services that come round, and what readiness finds of them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from fleet.models.carts import MeterReading
from fleet.readiness import Window, readiness
from people.yard import yard_day
from servicing.models.plans import ServiceDue
from servicing.service_book import reckon_services
from tests.factories.fleet import CartFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory
from tests.factories.servicing import NOW

TODAY = yard_day(NOW)
DAY = timedelta(days=1)


def read(cart, kind, *points):
    """Readings (days before NOW, value) of the meter now on the cart."""
    meter = cart.meters.get(kind=kind, removed_at=None)
    for days, value in points:
        MeterReading.objects.create(
            meter=meter,
            value=Decimal(value),
            read_at=NOW - days * DAY,
            source_kind=f"day {days}",
            source_id=cart.pk,
        )


def at_work(used, *, hours_a_day=5, plan=None, **kwargs):
    """A cart that runs so many hours a day and has used so many hours of its 250-hour service."""
    cart = CartFactory(**kwargs)
    read(cart, "engine_hours", *[(days, 2000 - hours_a_day * days) for days in range(50, 0, -1)], (0, 2000))
    plan = plan or ServicePlanFactory(cart=cart)
    ServiceDoneFactory(
        cart=cart, plan=plan, engine_hours=2000 - used, done_at=NOW - (used // hours_a_day) * DAY
    )
    reckon_services(carts=[cart], at=NOW)
    return cart


def due(cart):
    return ServiceDue.objects.get(cart=cart)


def window(days_ahead=1, days=7):
    start = NOW + days_ahead * DAY
    return Window(start, start + days * DAY, asks_gate=False)


def found(cart, code, **kwargs):
    answer = readiness(cart, window=window(**kwargs), at=NOW)
    return [one for one in (*answer.blockers, *answer.cautions) if one.code == code]
