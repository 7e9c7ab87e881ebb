"""Plans of jobs as the desk kept them, each written once: a changed plan is kept anew."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress
from typing import ClassVar
from uuid import UUID

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.pencils import Pencil
from people.rows import SealedRow

OF_ONE = (
    models.Q(line=None, booking=None) | models.Q(line=None, pencil=None) | models.Q(booking=None, pencil=None)
)
PLACES = ("line", "booking", "pencil")
# What the words of a place are read from.
READ_WITH = (
    "line__agreement", "line__cart", "booking__customer", "booking__line__agreement", "booking__line__cart", "pencil__cart",
)  # fmt: skip


def place_words(place: Line | Booking | Pencil) -> str:
    """What a plan is kept with, as it is spoken of."""
    if isinstance(place, Line):
        return f"{place.agreement.number}, {place.cart.fleet_number}"
    if isinstance(place, Pencil):
        return f"{place.cart.fleet_number} pencilled for {place.caller_words}"
    became = f", then {place_words(place.line)}" if place.line else ""
    return f"booking of {place.customer.name}{became}"


class JobPlanQuerySet(models.QuerySet["JobPlan"]):
    def for_list(self) -> JobPlanQuerySet:
        followed = PlanFollowed.objects.select_related(*READ_WITH)
        return self.select_related("planned_by", *READ_WITH).prefetch_related(
            models.Prefetch("followed", followed)
        )

    def of_lines(self, lines: Collection[Line]) -> JobPlanQuerySet:
        """Kept with them or with the bookings they came from, or gone with what they came from."""
        of_them = models.Q(line__in=lines) | models.Q(booking__line__in=lines)
        followed = PlanFollowed.objects.filter(of_them).values("plan")
        return self.filter(of_them | models.Q(pk__in=followed))

    def of_pencil(self, pencil: Pencil) -> JobPlanQuerySet:
        followed = PlanFollowed.objects.filter(pencil=pencil).values("plan")
        return self.filter(models.Q(pencil=pencil) | models.Q(pk__in=followed))

    def named(self, text: str) -> JobPlan | None:
        """The plan an address names; none where it names none."""
        with suppress(ValueError):
            return self.filter(pk=UUID(text)).first()
        return None


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
        places = [self.line or self.booking or self.pencil, *(one.place for one in self.followed.all())]
        return ", then ".join(place_words(place) for place in places if place)

    @property
    def cart(self) -> Cart | None:
        """The cart it was planned for; none where that was still to be chosen."""
        kept = self.line or self.pencil
        return kept.cart if kept else None


class PlanFollowed(SealedRow):
    """A plan that went with what became of the call: into a pencilled cart, a booking or a hire."""

    plan = models.ForeignKey(JobPlan, on_delete=models.PROTECT, related_name="followed")
    line = models.ForeignKey(Line, null=True, on_delete=models.PROTECT, related_name="+")
    booking = models.ForeignKey(Booking, null=True, on_delete=models.PROTECT, related_name="+")
    pencil = models.ForeignKey(Pencil, null=True, on_delete=models.PROTECT, related_name="+")
    followed_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["followed_at", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=OF_ONE & ~models.Q(line=None, booking=None, pencil=None),
                name="hire_planfollowed_into_one",
                violation_error_message="A plan goes with one hire, one booking or one pencilled cart.",
            ),
        ]

    def __str__(self) -> str:
        return place_words(self.place)

    @property
    def place(self) -> Line | Booking | Pencil:
        # The database holds that one of them stands.
        return self.line or self.booking or self.pencil  # type: ignore[return-value]
