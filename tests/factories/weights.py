"""A cart's weights on record: weighable_cart() has a tank as measured and plates; tickets are added one by one."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from fleet.models.weights import GroupWeights, TankMeasured, WeighbridgeTicket, WeightSheet
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory

RECORDED_AT = datetime(2026, 6, 1, 2, 0, tzinfo=UTC)
STEER = {
    "place": 1,
    "name": "steer axle",
    "law_key": "steer",
    "axles": 1,
    "tyres": 2,
    "tyre_load_kg": 3150,
    "maker_kg": 6500,
}
DRIVE = {
    "place": 2, "name": "drive axles", "law_key": "tandem_dual", "axles": 2, "tyres": 8, "tyre_load_kg": 2800,
    "maker_kg": 18000, "spread_m": Decimal("1.35"),
}  # fmt: skip


class TankMeasuredFactory(DjangoModelFactory):
    class Meta:
        model = TankMeasured

    cart = factory.SubFactory(CartFactory)
    measured_on = date(2026, 6, 1)
    shape = "ellipse"
    length_m = Decimal("4.850")
    width_m = Decimal("2.300")
    height_m = Decimal("1.600")
    dead_l = 150
    lid_above_mm = 120
    sight_zero_mm = 50
    middle_m = Decimal("4.30")
    fill_l_min = 900
    by_words = "Teo Marsden"
    recorded_at = RECORDED_AT
    recorded_by = factory.SubFactory(StaffFactory)


class WeightSheetFactory(DjangoModelFactory):
    """The plates of a two-group cart; groups=() leaves its groups out."""

    class Meta:
        model = WeightSheet
        skip_postgeneration_save = True

    cart = factory.SubFactory(CartFactory)
    from_on = date(2026, 6, 1)
    rule_set = "au"
    fuel_tank_l = 300
    fuel_place_m = Decimal("1.50")
    cab_place_m = Decimal("0.50")
    source_words = "plates on the door and the maker's sheet"
    recorded_at = RECORDED_AT
    recorded_by = factory.SubFactory(StaffFactory)

    @factory.post_generation
    def groups(self, create, extracted, **kwargs):
        if not create:
            return
        given = extracted if extracted is not None else (
            STEER | {"position_m": Decimal(0), "tare_kg": 3900},
            DRIVE | {"position_m": Decimal("5.00"), "tare_kg": 5400},
        )  # fmt: skip
        GroupWeights.objects.bulk_create(GroupWeights(sheet=self, **group) for group in given)


class TicketFactory(DjangoModelFactory):
    class Meta:
        model = WeighbridgeTicket

    cart = factory.SubFactory(CartFactory)
    weighed_at = datetime(2026, 6, 2, 0, 0, tzinfo=UTC)
    place_words = "Weir Street public weighbridge"
    number = factory.Sequence(lambda n: f"W{n:05d}")
    front_kg = 4500
    rear_kg = 5700
    water_l = 0
    driver_in = True
    kit_in = True
    fuel_eighths = 8
    by_words = "Wes Tonkin"
    recorded_at = datetime(2026, 6, 2, 1, 0, tzinfo=UTC)
    recorded_by = factory.SubFactory(StaffFactory)


def weighable_cart(**cart):
    """A cart with its tank and plates on record, not weighed; its gross limit is 23,000 kg unless given."""
    made = CartFactory(**{"gross_limit_kg": 23_000} | cart)
    TankMeasuredFactory(cart=made)
    WeightSheetFactory(cart=made)
    return made
