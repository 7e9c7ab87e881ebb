"""Hours of a hire that no clock of ours shows, as the yard and the customer agreed them."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateRangeField, RangeBoundary, RangeOperators
from django.db import models

from hire.models.agreements import Line
from people.rows import Row

HOW = [("estimate", "The meter is dead: an agreed estimate"), ("read", "Read off or signed for, by both")]


class DateRange(models.Func):
    function = "daterange"
    output_field = DateRangeField()


class AgreedHours(Row):
    """So many hours over some days of one cart's hire, with a name of each side. They stand in the place of what a meter showed."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="agreed_hours")
    first_on = models.DateField()
    # The last of the days, counted too.
    last_on = models.DateField()
    hours = models.DecimalField(max_digits=6, decimal_places=2)
    how = models.CharField(max_length=8, choices=HOW)
    yard_name = models.CharField("For the yard", max_length=80)
    customer_name = models.CharField("For the customer", max_length=80)
    words = models.CharField("What it rests on", max_length=240)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    struck_at = models.DateTimeField(null=True)
    struck_why = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["first_on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="hire_agreedhours_once_a_day",
                expressions=[
                    ("line", RangeOperators.EQUAL),
                    (
                        DateRange("first_on", "last_on", RangeBoundary(inclusive_upper=True)),
                        RangeOperators.OVERLAPS,
                    ),
                ],
                condition=models.Q(struck_at=None),
                violation_error_message="The hours of one of these days are agreed already. Strike those out first.",
            ),
            models.CheckConstraint(
                condition=models.Q(hours__gte=0, last_on__gte=models.F("first_on")),
                name="hire_agreedhours_in_order",
                violation_error_message="Hours are zero or more, over days of which the last is not before the first.",
            ),
            models.CheckConstraint(
                condition=~models.Q(yard_name="") & ~models.Q(customer_name="") & ~models.Q(words=""),
                name="hire_agreedhours_both_names",
                violation_error_message="Hours are agreed by a name of each side, and say what they rest on.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hours} h from {self.first_on}"
