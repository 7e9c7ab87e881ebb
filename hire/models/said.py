"""What was said of a pre-start that nobody signed."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.models.links import CustomerLink
from people.rows import SealedRow


class PreStartSaid(SealedRow):
    """Who said what, when, of one lapsed shift of a hire: told to the yard, or written by the customer's supervisor."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="pre_start_said")
    shift_on = models.DateField()
    # As hire.shifts names it; blank where the hire works by day alone.
    shift_words = models.CharField(max_length=12, blank=True)
    said_at = models.DateTimeField()
    said_by_words = models.CharField(max_length=120)
    words = models.CharField(max_length=240)
    recorded_at = models.DateTimeField()
    # Null: it came by the customer's link.
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["said_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(recorded_by=None, link__isnull=False)
                | models.Q(recorded_by__isnull=False, link=None),
                name="hire_prestartsaid_told_or_by_link",
                violation_error_message="It was told to somebody of the yard, or came by a customer’s link.",
            ),
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("said_at")),
                name="hire_prestartsaid_was_said",
                violation_error_message="What was said is written down once it was said.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.shift_on}: {self.words}"
