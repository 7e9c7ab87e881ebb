"""What a tank carried and how it was sanitised. potable_cart() may carry drinking water; give it a fill to spoil it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from fleet.models.water import Sanitising, WaterCarried
from tests.factories.fleet import GEAR, JOINED_AT, CartFactory
from tests.factories.people import StaffFactory


class WaterCarriedFactory(DjangoModelFactory):
    class Meta:
        model = WaterCarried

    cart = factory.SubFactory(CartFactory)
    source = "potable"
    filled_at = JOINED_AT + timedelta(days=30)
    place_words = "Standpipe, Weir Street"
    permit_words = "SP-0417"
    recorded_at = factory.LazyAttribute(lambda made: made.filled_at + timedelta(hours=1))
    recorded_by = factory.SubFactory(StaffFactory, role="yard_hand")


class SanitisingFactory(DjangoModelFactory):
    """Sanitised and, with passed= True or False, tested a day later."""

    class Meta:
        model = Sanitising
        exclude = ("passed",)

    passed = None
    cart = factory.SubFactory(CartFactory)
    done_at = JOINED_AT + timedelta(days=20)
    how = "Emptied and scrubbed"
    product = "Sodium hypochlorite 12.5 %"
    dose_mg_l = Decimal(10)
    minutes = 720
    rinse = "Twice from the mains"
    residual_mg_l = Decimal("0.60")
    by_words = "Wes Tonkin"
    recorded_at = factory.LazyAttribute(lambda made: made.done_at + timedelta(hours=1))
    recorded_by = factory.SubFactory(StaffFactory, role="yard_hand")
    test_passed = factory.SelfAttribute("passed")
    tested_at = factory.LazyAttribute(
        lambda made: None if made.passed is None else made.done_at + timedelta(days=1)
    )
    test_words = factory.LazyAttribute(lambda made: "" if made.passed is None else "Report 2208")
    test_recorded_by = factory.LazyAttribute(lambda made: None if made.passed is None else made.recorded_by)


def potable_cart(**made):
    """A cart with a potable tank, filled with potable water, sanitised and tested."""
    cart = CartFactory(**{"gear": (*GEAR, "potable_tank")} | made)
    SanitisingFactory(cart=cart, passed=True)
    WaterCarriedFactory(cart=cart)
    return cart
