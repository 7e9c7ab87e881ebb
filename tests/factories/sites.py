"""What customers' sites ask, and carts turned away there."""

from __future__ import annotations

from datetime import timedelta

import factory
from factory.django import DjangoModelFactory

from hire.models.packs import SitePack
from hire.models.sites import SiteSet, TurnedAway
from hire.pack_content import pack_body
from hire.site_rules import Asked, site_key
from hire.site_text import body_of
from people.yard import yard_day
from tests.factories.hire import AT, CustomerFactory, LineFactory
from tests.factories.people import StaffFactory


class SiteSetFactory(DjangoModelFactory):
    """The first issue of a set; asked= says what is asked."""

    class Meta:
        model = SiteSet
        exclude = ("asked",)

    asked = Asked(gear={"rops": "must"})
    customer = factory.SubFactory(CustomerFactory)
    site = "Saltbush Road widening"
    site_key = factory.LazyAttribute(lambda made: site_key(made.site))
    issue = 1
    body = factory.LazyAttribute(lambda made: body_of(made.asked))
    why = "Their plant standard, issue 3"
    made_at = AT - timedelta(days=30)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class TurnedAwayFactory(DjangoModelFactory):
    class Meta:
        model = TurnedAway

    line = factory.SubFactory(LineFactory, starts_at=AT - timedelta(days=3), out_at=AT - timedelta(days=3))
    at = factory.LazyAttribute(lambda made: made.line.handed_over_at + timedelta(hours=2))
    failed, gear, words = "gear", "flag", "No flag on a mast"
    told_by_words = "Gate officer"
    whose_cost = "yard"
    done_words = "Brought back and fitted."
    recorded_at = factory.LazyAttribute(lambda made: made.at + timedelta(hours=1))
    recorded_by = factory.SubFactory(StaffFactory, role="hire_desk")


class SitePackFactory(DjangoModelFactory):
    """A pack made three days before its cart leaves."""

    class Meta:
        model = SitePack

    line = factory.SubFactory(LineFactory)
    number = factory.Sequence(lambda n: f"P2025-{n:05d}")
    used_on = factory.LazyAttribute(lambda made: yard_day(made.line.promised.lower))
    body = factory.LazyAttribute(lambda made: pack_body(made.line, at=made.made_at))
    made_at = factory.LazyAttribute(lambda made: made.line.promised.lower - timedelta(days=3))
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
