"""What the workshop's and the watch's tests build on: photos of the day, hires to be wanted for, and a defect's steps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from fleet.models.defects import Defect
from fleet.models.wheels import WheelPosition
from hire.models.agreements import Line
from servicing.models.wheels import Retorque
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    MeterReadingFactory,
    PhotoFactory,
    TreadReadingFactory,
    TyreFactory,
    TyreFittingFactory,
)
from tests.factories.hire import LineFactory
from tests.factories.people import StaffFactory

NOW = datetime(2026, 11, 30, 21, 0, tzinfo=UTC)


def fresh_photo(**kwargs):
    """A photo taken in just before NOW, long after the usual defect was told."""
    return PhotoFactory(**{"received_at": NOW - timedelta(minutes=5)} | kwargs)


def defect_of(cart, **kwargs) -> Defect:
    """A defect told two hours before NOW."""
    return DefectFactory(cart=cart, **{"told_at": NOW - timedelta(hours=2)} | kwargs)


def line_of(cart, *, starts_at: datetime, out_at: datetime | None = None, **agreement) -> Line:
    """A promise of a cart for a week; out_at: when it was handed over; the rest is said of its agreement."""
    about = {f"agreement__{name}": value for name, value in agreement.items()}
    return LineFactory(cart=cart, starts_at=starts_at, out_at=out_at, **about)


class RetorqueFactory(DjangoModelFactory):
    """A hub's nuts to be checked again, the wheel on since two hours before NOW; first=True: checked once, an hour before NOW, by
    the end of the day to be checked again."""

    class Meta:
        model = Retorque
        exclude = ("code", "first")

    cart = factory.SubFactory(CartFactory)
    code = "2LO"
    first = False
    wheel_position = factory.LazyAttribute(
        lambda made: WheelPosition.objects.get(cart=made.cart, code=made.code)
    )
    axle = factory.SelfAttribute("wheel_position.axle")
    side = factory.SelfAttribute("wheel_position.side")
    why = "Brake shoes"
    rule_set = "au"
    fitted_at = NOW - timedelta(hours=2)
    opened_by = factory.SubFactory(StaffFactory, role="fitter")
    first_at = factory.LazyAttribute(lambda made: made.fitted_at + timedelta(hours=1) if made.first else None)
    first_by_words = factory.LazyAttribute(lambda made: "Teo Marsden" if made.first else "")
    first_wrench = factory.LazyAttribute(lambda made: "TW-3" if made.first else "")
    first_nm = factory.LazyAttribute(lambda made: 600 if made.first else None)
    first_nuts = factory.LazyAttribute(lambda made: 10 if made.first else None)
    second_for = factory.LazyAttribute(lambda made: "M. Doyle, Callabar" if made.first else "")
    shift_ends_at = factory.LazyAttribute(
        lambda made: made.fitted_at + timedelta(hours=10) if made.first else None
    )


def worn_steadily(
    cart,
    code="2LO",
    *,
    wear=Decimal("0.25"),
    new=Decimal("16.0"),
    readings=6,
    km=30_000,
    until=NOW,
    is_km_read=True,
    **tyre,
):
    """A tyre that has worn evenly by the 1,000 km, read each ten days up to `until` as its cart ran 1,500 km between; the last
    reading is at `km`. is_km_read: the odometer was read with it."""
    known = {"new_depth_mm": new} | tyre
    fitting = TyreFittingFactory(
        cart=cart, code=code, tyre=TyreFactory(**known), fitted_at=until - timedelta(days=10 * readings)
    )
    meter = cart.meters.filter(kind="km").first()
    for number in range(readings):
        left, run = readings - 1 - number, Decimal(1500 * (number + 1))
        read_at = until - timedelta(days=10 * left)
        TreadReadingFactory(fitting=fitting, depth_mm=round(new - wear * run / 1000, 1), read_at=read_at)
        if is_km_read and not meter.readings.filter(read_at=read_at).exists():
            MeterReadingFactory(meter=meter, value=Decimal(km - 1500 * left), read_at=read_at)
    return fitting
