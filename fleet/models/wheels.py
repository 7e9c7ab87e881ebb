"""Wheel positions, tyres, and which tyre was where, when."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from fleet.models.carts import Cart
from people.rows import Row


class WheelPosition(Row):
    """A place a tyre can be: axle from the front, side as seen from the driver's seat, outer or inner on duals."""

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="wheel_positions")
    code = models.CharField(max_length=4)
    axle = models.PositiveSmallIntegerField()
    side = models.CharField(max_length=1, choices=[("L", "Left"), ("R", "Right")])
    place = models.CharField(
        max_length=6, choices=[("single", "Single"), ("inner", "Inner"), ("outer", "Outer")]
    )
    steers = models.BooleanField()

    class Meta:
        ordering: ClassVar[list[str]] = ["cart", "axle", "side", "place"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "code"],
                name="fleet_wheelposition_code_once",
                violation_error_message="The cart already has a wheel position with this code.",
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        side = "left" if self.side == "L" else "right"
        place = "" if self.place == "single" else f" {self.place}"
        return f"axle {self.axle} {side}{place}"


class Tyre(Row):
    serial = models.CharField(max_length=30, unique=True)
    make = models.CharField(max_length=40)
    size = models.CharField(max_length=24)
    load_index = models.CharField(max_length=12, blank=True)
    new_depth_mm = models.DecimalField(max_digits=4, decimal_places=1)
    # Null: the week mark on the wall could not be read.
    made_on = models.DateField(null=True, blank=True)
    # What the yard paid for it, without tax. Null: not known.
    cost = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(cost=None) | models.Q(cost__gte=Decimal(0)),
                name="fleet_tyre_cost_not_negative",
                violation_error_message="A tyre's price is never below zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(new_depth_mm__gt=Decimal(0), new_depth_mm__lte=Decimal(40)),
                name="fleet_tyre_new_depth_believable",
                violation_error_message="A new tyre's tread is above 0 and at most 40 mm deep.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.serial}"


class TyreFitting(Row):
    tyre = models.ForeignKey(Tyre, on_delete=models.PROTECT, related_name="fittings")
    wheel_position = models.ForeignKey(WheelPosition, on_delete=models.PROTECT, related_name="fittings")
    # Half-open; no upper end: on the cart now.
    period = DateTimeRangeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="fleet_tyrefitting_one_tyre_a_position",
                expressions=[("wheel_position", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                violation_error_message="Another tyre is in this position for that time. Take it off first.",
            ),
            ExclusionConstraint(
                name="fleet_tyrefitting_one_position_a_tyre",
                expressions=[("tyre", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                violation_error_message="This tyre is in another position for that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False),
                name="fleet_tyrefitting_period_in_order",
                violation_error_message="A tyre cannot come off before it was fitted.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tyre} at {self.wheel_position}"


class TreadReading(Row):
    """A believed depth, derived from a signed answer or taken in the workshop. Odd ones become ReadingQuestion."""

    fitting = models.ForeignKey(TyreFitting, on_delete=models.CASCADE, related_name="tread_readings")
    depth_mm = models.DecimalField(max_digits=4, decimal_places=1)
    read_at = models.DateTimeField()
    source_kind = models.CharField(max_length=20)
    source_id = models.UUIDField()

    class Meta:
        ordering: ClassVar[list[str]] = ["read_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["fitting", "-read_at"], name="fleet_treadreading_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(depth_mm__gte=Decimal(0)),
                name="fleet_treadreading_not_negative",
                violation_error_message="A tread depth is never below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.depth_mm} mm"
