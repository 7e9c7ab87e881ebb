"""Spray figures as docs/spraying.md works them, with a fill and a dead volume as older sheets kept them; and tests of their
heads: EvennessTestFactory(litres=(40, 40, 32, 40))."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from fleet.models.evenness import EvennessTest, HeadCatch
from fleet.models.spraying import SprayGear, SprayHead, SprayOpening, SpraySheet
from tests.factories.fleet import JOINED_AT, CartFactory
from tests.factories.people import StaffFactory

GEARS = (("Second", Decimal(8), Decimal(6)), ("Third", Decimal(12), Decimal(6)))
HEADS = tuple(
    (name, "fan 60", Decimal(160)) for name in ("Rear left", "Rear right", "Side left", "Side right")
)
OPENINGS = (("All", [1, 2, 3, 4], None), ("Rear only", [1, 2], Decimal(4)))


class SpraySheetFactory(DjangoModelFactory):
    class Meta:
        model = SpraySheet
        skip_postgeneration_save = True

    cart = factory.SubFactory(CartFactory)
    version = 1
    pump = "engine"
    pump_l_min = Decimal(600)
    pump_kpa = Decimal(200)
    pump_rpm = 1500
    gears_rpm = 1500
    rpms = factory.LazyFunction(lambda: [1200, 1500])
    head_kpa = Decimal(200)
    fill_l_min = Decimal(1000)
    dead_l = Decimal(0)
    words = "Timed in the yard"
    recorded_at = JOINED_AT + timedelta(days=10)
    recorded_by = factory.SubFactory(StaffFactory, role="fitter")

    @factory.post_generation
    def parts(self, create, extracted, **kwargs):
        for place, (name, speed, width) in enumerate(GEARS, start=1):
            SprayGear.objects.create(sheet=self, position=place, name=name, speed_km_h=speed, width_m=width)
        for place, (name, nozzle, flow) in enumerate(HEADS, start=1):
            SprayHead.objects.create(sheet=self, position=place, name=name, nozzle=nozzle, nominal_l_min=flow)
        for place, (name, heads, width) in enumerate(OPENINGS, start=1):
            SprayOpening.objects.create(sheet=self, position=place, name=name, heads=heads, width_m=width)


class EvennessTestFactory(DjangoModelFactory):
    class Meta:
        model = EvennessTest
        skip_postgeneration_save = True

    cart = factory.SubFactory(CartFactory)
    sheet = factory.LazyAttribute(
        lambda made: made.cart.spray_sheets.first() or SpraySheetFactory(cart=made.cart)
    )
    done_at = JOINED_AT + timedelta(days=20)
    pressure_kpa = Decimal(200)
    tolerance_pct = Decimal(10)
    recorded_at = factory.LazyAttribute(lambda made: made.done_at + timedelta(hours=1))
    recorded_by = factory.SubFactory(StaffFactory, role="yard_hand")

    @factory.post_generation
    def litres(self, create, extracted, **kwargs):
        for head, caught in zip(self.sheet.heads.all(), extracted or (40, 40, 40, 40), strict=True):
            HeadCatch.objects.create(test=self, head=head, caught_l=Decimal(caught), seconds=Decimal(15))
