"""Owners of hired-in carts. HireInFactory() is with us since ten days before AT, for thirty days: 100 a day, 500 a week."""

from __future__ import annotations

from datetime import date, time, timedelta
from decimal import Decimal

import factory
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from factory.django import DjangoModelFactory

from hire.models.owners import HireIn, Owner, OwnerPaper
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT
from tests.factories.people import StaffFactory


class OwnerFactory(DjangoModelFactory):
    class Meta:
        model = Owner

    name = factory.Sequence(lambda n: f"Tarcoola Plant {n}")
    contact_name, phone = "Bel Ostrow", "08 5550 0444"


class OwnerPaperFactory(DjangoModelFactory):
    class Meta:
        model = OwnerPaper

    owner = factory.SubFactory(OwnerFactory)
    kind, number, expires_on = "insurance", "POL 4471", date(2099, 6, 30)
    recorded_at = AT
    recorded_by = factory.SubFactory(StaffFactory, role="hire_desk")


class HireInFactory(DjangoModelFactory):
    class Meta:
        model = HireIn
        exclude = ("starts_at", "ends_at")

    starts_at = AT - timedelta(days=10)
    ends_at = factory.LazyAttribute(lambda made: made.starts_at + timedelta(days=30))
    owner = factory.SubFactory(OwnerFactory)
    cart = factory.SubFactory(CartFactory)
    period = factory.LazyAttribute(lambda made: DateTimeTZRange(made.starts_at, made.ends_at))
    day_price, week_price, four_weeks_price = Decimal(100), Decimal(500), None
    cut_off = time(14)
    made_at = factory.SelfAttribute("starts_at")
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
