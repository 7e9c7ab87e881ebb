"""Owners of carts we hire in, their papers, and the periods we have their carts for."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from fleet.models.carts import Cart
from people.rows import Row, SealedRow

PAPER_KINDS = [
    ("insurance", "Insurance"),
    ("agreement", "Hire-in agreement"),
    ("maintenance", "Maintenance record"),
]


class Owner(Row):
    """Who owns carts that we hire in."""

    name = models.CharField(max_length=80)
    contact_name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30)
    email = models.EmailField(blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                models.functions.Lower("name"),
                name="hire_owner_name_once",
                violation_error_message="An owner with this name is on record already.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class OwnerPaper(SealedRow):
    """A paper of an owner. Of one kind the newest on record counts, so a wrong date is put right by recording it again."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=12, choices=PAPER_KINDS)
    number = models.CharField(max_length=40, blank=True)
    # Null: does not lapse. The last day it is good.
    expires_on = models.DateField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-recorded_at"]

    def __str__(self) -> str:
        return self.get_kind_display()

    def has_lapsed(self, *, on: date) -> bool:
        return self.expires_on is not None and self.expires_on < on


class HireInQuerySet(models.QuerySet["HireIn"]):
    def standing(self) -> HireInQuerySet:
        """Not struck out, and the cart not back with its owner."""
        return self.filter(struck_at=None, returned_at=None)

    def running(self, *, at: datetime) -> HireInQuerySet:
        """The owner's clock runs: begun, and not called off with effect by then."""
        not_stopped = models.Q(stops_at=None) | models.Q(stops_at__gt=at)
        return self.standing().filter(not_stopped, period__startswith__lte=at)

    def for_list(self) -> HireInQuerySet:
        return self.select_related("cart", "owner", "made_by", "called_by")


class HireIn(Row):
    """One cart hired in from its owner. `period` is what the owner agreed to, half-open; the clock runs until the owner is called
    off, which is apart from the customer's call."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="hire_ins")
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="hire_ins")
    period = DateTimeRangeField()
    order_number = models.CharField("Our order number", max_length=40, blank=True)
    day_price = models.DecimalField(max_digits=9, decimal_places=2)
    # Null: the owner has no such rate.
    week_price = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    four_weeks_price = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    minimum_days = models.PositiveSmallIntegerField(default=0)
    cut_off = models.TimeField()
    words = models.CharField(max_length=240, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: the owner has not been called off.
    called_at = models.DateTimeField(null=True, blank=True)
    # When the owner's charge stops by the owner's own cut-off.
    stops_at = models.DateTimeField(null=True, blank=True)
    called_to_words = models.CharField(max_length=120, blank=True)
    called_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    # Null: still with us.
    returned_at = models.DateTimeField(null=True, blank=True)
    # Null: stands. Written down by mistake.
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_why = models.CharField(max_length=240, blank=True)

    objects: ClassVar[HireInQuerySet] = HireInQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-period", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="hire_hirein_one_a_cart",
                expressions=[("cart", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                condition=models.Q(struck_at=None, returned_at=None),
                violation_error_message="This cart is hired in already in that time. Change that period instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="hire_hirein_period_in_order",
                violation_error_message="The owner’s period ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(day_price__gte=0)
                & (models.Q(week_price=None) | models.Q(week_price__gte=0))
                & (models.Q(four_weeks_price=None) | models.Q(four_weeks_price__gte=0)),
                name="hire_hirein_prices_not_below_zero",
                violation_error_message="An owner’s price is zero or more.",
            ),
            models.CheckConstraint(
                condition=models.Q(called_at=None, stops_at=None, called_by=None, called_to_words="")
                | models.Q(called_at__isnull=False, called_by__isnull=False, stops_at__isnull=False)
                & models.Q(stops_at__gte=models.F("called_at"))
                & ~models.Q(called_to_words=""),
                name="hire_hirein_called_off_whole",
                violation_error_message="A call to the owner says when, to whom and by whom, and stops the charge then or later.",
            ),
            models.CheckConstraint(
                condition=models.Q(returned_at=None) | models.Q(called_at__isnull=False),
                name="hire_hirein_returned_was_called_off",
                violation_error_message="A cart goes back to its owner once the owner is called off.",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at=None, struck_why="")
                | models.Q(struck_at__isnull=False) & ~models.Q(struck_why=""),
                name="hire_hirein_struck_says_why",
                violation_error_message="What is struck out says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number} from {self.owner.name}"

    @property
    def rates(self) -> dict[int, Decimal]:
        """The owner's prices by length in days."""
        found = {1: self.day_price, 7: self.week_price, 28: self.four_weeks_price}
        return {days: price for days, price in found.items() if price is not None}
