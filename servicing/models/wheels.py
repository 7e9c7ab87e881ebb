"""Wheel nuts to be checked again: one row each time a wheel was off, closed by its second check or by the next time."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.models.carts import Cart
from fleet.models.wheels import TyreFitting, WheelPosition
from people.rows import Row

# No wheel of a cart is held by fewer, nor torqued outside these; only a slip of the pen is caught. Common practice, no source.
NUTS_WORDS = "A wheel of a cart is held by 4 to 24 nuts: count them again."
TORQUE_WORDS = "Wheel nuts are set between 100 and 1,500 N·m: read the wrench again, and mind its unit."
NUTS = [MinValueValidator(4, NUTS_WORDS), MaxValueValidator(24, NUTS_WORDS)]
NEWTON_METRES = [MinValueValidator(100, TORQUE_WORDS), MaxValueValidator(1500, TORQUE_WORDS)]


def _step(name: str) -> models.Q:
    """Both checks are whole or not there: when, by whom, with what, how tight, how many."""
    there = models.Q(
        **{f"{name}_at__isnull": False, f"{name}_nm__isnull": False, f"{name}_nuts__isnull": False}
    ) & ~models.Q(**{f"{name}_by_words": ""})
    none = models.Q(**{f"{name}_at": None, f"{name}_nm": None, f"{name}_nuts": None, f"{name}_by_words": ""})
    return there | none


class Retorque(Row):
    """A hub's nuts after a wheel was off. Duals share their hub and so one row; `wheel_position` is the tyre that was changed."""

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="retorques")
    wheel_position = models.ForeignKey(WheelPosition, on_delete=models.PROTECT, related_name="retorques")
    axle = models.PositiveSmallIntegerField()
    side = models.CharField(max_length=1, choices=[("L", "Left"), ("R", "Right")])
    # Null: the tyre there is not on record.
    fitting = models.ForeignKey(TyreFitting, on_delete=models.PROTECT, null=True, related_name="retorques")
    why = models.CharField(max_length=160)
    rule_set = models.CharField(max_length=2)
    fitted_at = models.DateTimeField()
    # Null: the cart has no odometer on record, or it was not read about then.
    km_at_fitting = models.DecimalField(max_digits=10, decimal_places=1, null=True, blank=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    # Null and blank: not done yet. The first is done by one of the yard, standing; who is told of the second is named with it.
    first_at = models.DateTimeField(null=True, blank=True)
    first_by_words = models.CharField(max_length=80, blank=True)
    first_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    first_wrench = models.CharField(max_length=40, blank=True)
    first_nm = models.PositiveSmallIntegerField(null=True, blank=True, validators=NEWTON_METRES)
    first_nuts = models.PositiveSmallIntegerField(null=True, blank=True, validators=NUTS)
    second_for = models.CharField(max_length=80, blank=True)
    shift_ends_at = models.DateTimeField(null=True, blank=True)

    second_at = models.DateTimeField(null=True, blank=True)
    second_by_words = models.CharField(max_length=80, blank=True)
    second_km = models.DecimalField(max_digits=10, decimal_places=1, null=True, blank=True)
    second_wrench = models.CharField(max_length=40, blank=True)
    second_nm = models.PositiveSmallIntegerField(null=True, blank=True, validators=NEWTON_METRES)
    second_nuts = models.PositiveSmallIntegerField(null=True, blank=True, validators=NUTS)
    second_told_to = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # Null: it stands. Else the wheel was off again, and the nuts are checked under the new row.
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["fitted_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "axle", "side"],
                condition=models.Q(second_at=None, replaced_at=None),
                name="servicing_retorque_one_a_hub",
                violation_error_message="The nuts of this hub are to be checked again already.",
            ),
            models.CheckConstraint(
                condition=_step("first"),
                name="servicing_retorque_first_whole",
                violation_error_message="A check of nuts says when, by whom, how tight and how many.",
            ),
            models.CheckConstraint(
                condition=_step("second"),
                name="servicing_retorque_second_whole",
                violation_error_message="A check of nuts says when, by whom, how tight and how many.",
            ),
            models.CheckConstraint(
                condition=models.Q(first_at=None)
                | (models.Q(first_at__gte=models.F("fitted_at"), shift_ends_at__isnull=False) & ~models.Q(second_for="")),
                name="servicing_retorque_first_after_fitting",
                violation_error_message="The first check comes after the wheel was fitted, and names who does the second.",
            ),
            models.CheckConstraint(
                condition=models.Q(second_at=None) | models.Q(second_at__gt=models.F("first_at")),
                name="servicing_retorque_second_after_first",
                violation_error_message="The second check comes after the first.",
            ),
            models.CheckConstraint(
                condition=models.Q(km_at_fitting=None) | models.Q(km_at_fitting__gte=Decimal(0)),
                name="servicing_retorque_km_not_negative",
                violation_error_message="A meter never reads below zero.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return self.hub_words

    @property
    def hub_words(self) -> str:
        return f"axle {self.axle} {'left' if self.side == 'L' else 'right'}"

    @property
    def is_open(self) -> bool:
        return self.second_at is None and self.replaced_at is None
