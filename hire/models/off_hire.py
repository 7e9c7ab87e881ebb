"""Off-hire: the numbered call that stops the charge, the pick-ups that failed, and when the cart left the site."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.models.links import CustomerLink
from people.rows import Row, SealedRow


class OffHireQuerySet(models.QuerySet["OffHire"]):
    def standing(self) -> OffHireQuerySet:
        return self.filter(cancelled_at=None)

    def awaiting(self) -> OffHireQuerySet:
        """Off hire, and the cart not back yet."""
        return self.standing().filter(line__back_at=None)

    def swaps(self) -> OffHireQuerySet:
        """Those by which another cart took the place, unless that was called back before it left."""
        return self.standing().filter(replaced_by__isnull=False, replaced_by__cancelled_at=None)

    def for_list(self) -> OffHireQuerySet:
        return self.select_related(
            "line__cart", "line__agreement__customer", "made_by", "link", "replaced_by__cart"
        ).prefetch_related("failed_pick_ups")


class OffHire(Row):
    """One call. A call made by mistake is cancelled and keeps its number; the next one has a number of its own."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="off_hires")
    number = models.CharField(max_length=16, unique=True)
    called_at = models.DateTimeField()
    # When it was written down, which may be later than the call.
    made_at = models.DateTimeField()
    # The instant that stops the charge.
    stops_at = models.DateTimeField()
    called_by_words = models.CharField(max_length=120)
    # Who took the call; null: it came by the customer's link.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")
    pick_up_words = models.CharField(max_length=120)
    keys_words = models.CharField(max_length=80)
    risk_words = models.CharField(max_length=120)
    # Null: no swap. The hire goes on with this line's cart, and the instant of the swap stops the charge of the other.
    replaced_by = models.OneToOneField(Line, null=True, on_delete=models.PROTECT, related_name="replaces")
    replaced_why = models.CharField(max_length=240, blank=True)
    # Null: still on site.
    left_site_at = models.DateTimeField(null=True)
    # Null: stands.
    cancelled_at = models.DateTimeField(null=True)
    cancelled_why = models.CharField(max_length=240, blank=True)

    objects: ClassVar[OffHireQuerySet] = OffHireQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["called_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line"],
                condition=models.Q(cancelled_at=None),
                name="hire_offhire_one_stands",
                violation_error_message="This hire is off-hired already.",
            ),
            models.CheckConstraint(
                condition=models.Q(stops_at__gte=models.F("called_at")),
                name="hire_offhire_stops_after_the_call",
                violation_error_message="The charge stops with the call or after it.",
            ),
            models.CheckConstraint(
                condition=models.Q(called_at__lte=models.F("made_at")),
                name="hire_offhire_called_before_written",
                violation_error_message="A call is written down once it was made.",
            ),
            models.CheckConstraint(
                condition=models.Q(made_by=None, link__isnull=False)
                | models.Q(made_by__isnull=False, link=None),
                name="hire_offhire_taken_or_by_link",
                violation_error_message="A call is taken by somebody of the yard, or comes by a customer’s link.",
            ),
            models.CheckConstraint(
                condition=models.Q(replaced_by=None, replaced_why="")
                | models.Q(replaced_by__isnull=False) & ~models.Q(replaced_why=""),
                name="hire_offhire_swap_says_why",
                violation_error_message="A swap says why.",
            ),
            models.CheckConstraint(
                condition=~models.Q(replaced_by=models.F("line")),
                name="hire_offhire_swap_for_another",
                violation_error_message="A cart is swapped for another one.",
            ),
            models.CheckConstraint(
                condition=models.Q(cancelled_at=None) | models.Q(left_site_at=None),
                name="hire_offhire_cancelled_never_left",
                violation_error_message="A cart that left the site was not called off by mistake.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def has_stopped(self, *, at: datetime) -> bool:
        return self.stops_at <= at


class FailedPickUp(SealedRow):
    """We came for the cart and could not take it."""

    off_hire = models.ForeignKey(OffHire, on_delete=models.PROTECT, related_name="failed_pick_ups")
    tried_at = models.DateTimeField()
    why = models.CharField(max_length=240)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["tried_at"]

    def __str__(self) -> str:
        return f"failed pick-up of {self.off_hire_id}"
