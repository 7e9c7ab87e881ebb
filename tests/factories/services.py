"""Services that come round. ServicePlanFactory() is a 250-hour service of every cart, or of cart=."""

from __future__ import annotations

from datetime import date, timedelta

import factory
from factory.django import DjangoModelFactory

from servicing.models.plans import ServiceDone, ServicePlan, Visit
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW


class ServicePlanFactory(DjangoModelFactory):
    class Meta:
        model = ServicePlan
        skip_postgeneration_save = True

    name = factory.Sequence(lambda n: f"Service {n}")
    engine_hours = 250
    source_words = "Handbook, page 4"

    @factory.post_generation
    def includes(self, create, extracted, **kwargs):
        if create and extracted:
            self.includes.set(extracted)


class ServiceDoneFactory(DjangoModelFactory):
    class Meta:
        model = ServiceDone

    plan = factory.SubFactory(ServicePlanFactory)
    done_at = NOW - timedelta(days=40)
    recorded_at = NOW
    by_words = "Teo Marsden"


class VisitFactory(DjangoModelFactory):
    class Meta:
        model = Visit

    on = date(2026, 12, 10)
    words = "250-hour service"
    booked_at = NOW - timedelta(days=30)
    booked_by = factory.SubFactory(StaffFactory, role="workshop_manager")
