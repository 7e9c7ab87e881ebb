"""Plans of jobs as the desk kept them, each written once: a changed plan is kept anew."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.pencils import Pencil
from people.rows import SealedRow

OF_ONE = (
    models.Q(line=None, booking=None) | models.Q(line=None, pencil=None) | models.Q(booking=None, pencil=None)
)


class JobPlanQuerySet(models.QuerySet["JobPlan"]):
    def for_list(self) -> JobPlanQuerySet:
        return self.select_related(
            "planned_by", "line__agreement", "line__cart", "booking__customer", "pencil__cart"
        )

    def of_line(self, line: Line) -> JobPlanQuerySet:
        """Also those kept with the booking it came from."""
        return self.filter(models.Q(line=line) | models.Q(booking__line=line))


class JobPlan(SealedRow):
    """What was planned, as the planner's address has it; `enquiry`: what the caller asked, as the address of the answer has it."""

    words = models.CharField(max_length=120)
    question = models.TextField()
    enquiry = models.TextField(blank=True)
    # What it was kept with, at most one of the three.
    line = models.ForeignKey(Line, null=True, on_delete=models.PROTECT, related_name="job_plans")
    booking = models.ForeignKey(Booking, null=True, on_delete=models.PROTECT, related_name="job_plans")
    pencil = models.ForeignKey(Pencil, null=True, on_delete=models.PROTECT, related_name="job_plans")
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[JobPlanQuerySet] = JobPlanQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-planned_at", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["-planned_at"], name="hire_jobplan_newest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=OF_ONE,
                name="hire_jobplan_of_one",
                violation_error_message="A plan is kept with a hire, a booking or a pencilled cart, not with two.",
            ),
            models.CheckConstraint(
                condition=~models.Q(words="") & ~models.Q(question=""),
                name="hire_jobplan_says_whose",
                violation_error_message="A plan says whose job it is, and what was planned.",
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def kept_with(self) -> str:
        if self.line:
            return f"{self.line.agreement.number}, {self.line.cart.fleet_number}"
        if self.booking:
            return f"booking of {self.booking.customer.name}"
        return (
            f"{self.pencil.cart.fleet_number} pencilled for {self.pencil.caller_words}" if self.pencil else ""
        )
