"""A cart pencilled for a caller who has not decided."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from typing import ClassVar
from uuid import UUID

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from fleet.models.carts import Cart
from hire.models.agreements import LEAVES_BY, WATERS, WORKS_BY, WORKS_ON
from hire.models.needs import NEEDS_FIELDS, CartNeeds


class PencilQuerySet(models.QuerySet["Pencil"]):
    def standing(self, *, at: datetime) -> PencilQuerySet:
        return self.filter(ended_at=None, expires_at__gt=at)

    def standing_by(self, text: str, *, at: datetime) -> Pencil | None:
        """The pencil an address names, while it stands."""
        with suppress(ValueError):
            return self.standing(at=at).filter(pk=UUID(text)).first()
        return None

    def for_list(self) -> PencilQuerySet:
        return self.select_related("cart", "made_by")


class Pencil(CartNeeds):
    """Keeps a cart for a caller until it lapses, is let go, or becomes a hire or a booking. It stops no cart and owes nobody
    anything."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="pencils")
    # Half-open, as a promise is.
    period = DateTimeRangeField()
    caller_words = models.CharField("Who asks", max_length=80)
    phone = models.CharField(max_length=30)
    words = models.CharField("What for", max_length=160, blank=True)
    # True: the caller asks for it with an operator of ours.
    is_wet = models.BooleanField("Wet hire", default=False)
    shift = models.CharField("Works by", max_length=5, choices=WORKS_BY, default="day")
    leaves_by = models.CharField(max_length=5, choices=LEAVES_BY, default="road")
    works_on = models.CharField(max_length=4, choices=WORKS_ON, default="road")
    water = models.CharField("Water carried", max_length=7, choices=WATERS, default="any")
    expires_at = models.DateTimeField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands until it lapses.
    ended_at = models.DateTimeField(null=True)
    ended_how = models.CharField(
        max_length=8,
        blank=True,
        choices=[
            ("lapsed", "Lapsed"),
            ("let_go", "Let go"),
            ("promised", "Became a hire"),
            ("booked", "Became a booking"),
        ],
    )

    objects: ClassVar[PencilQuerySet] = PencilQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["period"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            *CartNeeds.Meta.constraints,
            ExclusionConstraint(
                name="hire_pencil_one_a_cart",
                expressions=[("cart", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                condition=models.Q(ended_at=None),
                violation_error_message="This cart is pencilled for another caller in that time. Choose another cart or period.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="hire_pencil_period_in_order",
                violation_error_message="A hire ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_pencil_lapses_later",
                violation_error_message="A pencilled cart is kept until a time to come.",
            ),
            models.CheckConstraint(
                condition=models.Q(shift__in=[shift for shift, _ in WORKS_BY]),
                name="hire_pencil_shift_known",
                violation_error_message="A cart works by day, by night, or day and night.",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, ended_how="")
                | (models.Q(ended_at__isnull=False) & ~models.Q(ended_how="")),
                name="hire_pencil_ended_somehow",
                violation_error_message="A pencil that ended lapsed, was let go, or became a hire or a booking.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number} for {self.caller_words}"

    def asked(self) -> dict[str, object]:
        """What the caller asked, by the names of the forms it goes on into."""
        return {name: getattr(self, name) for name in (*NEEDS_FIELDS, "leaves_by", "works_on", "water")}
