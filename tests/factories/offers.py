"""A service offered on site and its answer. ServiceOfferFactory(line=) is of a 250-hour service, not answered."""

from __future__ import annotations

from datetime import timedelta

import factory
from factory.django import DjangoModelFactory

from hire.models.service_offers import OfferAnswer, ServiceOffer
from tests.factories.hire import AT, LineFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServicePlanFactory


class ServiceOfferFactory(DjangoModelFactory):
    class Meta:
        model = ServiceOffer

    line = factory.SubFactory(LineFactory)
    plan = factory.LazyAttribute(lambda made: ServicePlanFactory(cart=made.line.cart))
    offered_to, access_words = "Kit Olsen", "Induction at the gate, escort to the pad"
    offered_at = made_at = AT
    starts_at = AT + timedelta(days=2)
    ends_at = AT + timedelta(days=2, hours=4)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class OfferAnswerFactory(DjangoModelFactory):
    class Meta:
        model = OfferAnswer

    offer = factory.SubFactory(ServiceOfferFactory)
    is_agreed, by_words, words = False, "Kit Olsen", "No time before Friday."
    told_at = made_at = AT + timedelta(hours=1)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
