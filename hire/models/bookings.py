"""A hire booked by what the cart must be, the cart chosen later."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.contrib.postgres.fields import DateTimeRangeField
from django.db import models

from fleet.sentences import moment_words
from hire.models.agreements import Line, Work
from hire.models.customers import Customer
from hire.models.needs import CartNeeds
from hire.suiting import Enquiry


class BookingQuerySet(models.QuerySet["Booking"]):
    def open(self) -> BookingQuerySet:
        return self.filter(ended_at=None)

    def for_list(self) -> BookingQuerySet:
        return self.select_related("customer", "made_by").order_by("period", "pk")


class Booking(Work, CartNeeds):
    """What a customer wants and when. It keeps no cart from anybody until one is promised for it."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="bookings")
    # True: the cart goes with an operator of ours.
    is_wet = models.BooleanField("Wet hire", default=False)
    # Half-open, as a promise is.
    period = DateTimeRangeField()
    # Null: open.
    ended_at = models.DateTimeField(null=True)
    ended_how = models.CharField(
        max_length=9, blank=True, choices=[("promised", "Became a hire"), ("cancelled", "Cancelled")]
    )
    # The hire it became.
    line = models.OneToOneField(Line, null=True, on_delete=models.PROTECT, related_name="booking")
    cancelled_why = models.CharField(max_length=240, blank=True)

    objects: ClassVar[BookingQuerySet] = BookingQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["period", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["period"], condition=models.Q(ended_at=None), name="hire_booking_open_by_day"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            *Work.Meta.constraints,
            *CartNeeds.Meta.constraints,
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="hire_booking_period_in_order",
                violation_error_message="A hire ends after it starts.",
            ),
            models.CheckConstraint(
                # Each state says whether it has an end: a comparison with none is unknown, and unknown would pass.
                condition=models.Q(ended_at=None, ended_how="", line=None, cancelled_why="")
                | models.Q(ended_at__isnull=False, ended_at__gte=models.F("made_at"))
                & (
                    models.Q(ended_how="promised", line__isnull=False, cancelled_why="")
                    | models.Q(ended_how="cancelled", line=None) & ~models.Q(cancelled_why="")
                ),
                name="hire_booking_ended_whole",
                violation_error_message="A booking that ended became a hire, or was cancelled with why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.customer.name}, {self.place_of_work}"

    def words(self, *, at: datetime) -> str:
        """As it is spoken of: "Merrin Civil, Saltbush Road, from Thursday 6.00 am"."""
        return f"{self}, from {moment_words(self.period.lower, at=at)}"

    def enquiry(self) -> Enquiry:
        """What is asked of a cart."""
        return Enquiry(
            self.period.lower, self.period.upper, litres=self.litres, gear=frozenset(self.gear),
            drive_axles=self.drive_axles, leaves_by=self.leaves_by, works_on=self.works_on,
            is_potable=self.water == "potable", road_litres=self.road_litres, is_wet=self.is_wet, shift=self.shift,
        )  # fmt: skip
