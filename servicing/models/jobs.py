"""What a job takes: time on it, parts in it, and what this fleet has learnt of how long each check's repairs take."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.defects import GRADES, Defect
from people.rows import Row


class TimeOnJob(Row):
    """A stretch of one person's time on one defect. ended_at null: they are on it now."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="times")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["started_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["by"],
                condition=models.Q(ended_at=None),
                name="servicing_timeonjob_one_open_a_person",
                violation_error_message="A person is on one job at a time.",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None) | models.Q(ended_at__gte=models.F("started_at")),
                name="servicing_timeonjob_period_in_order",
                violation_error_message="Time on a job ends after it started.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.by_id} on {self.defect_id} from {self.started_at}"


class PartUsed(Row):
    """A part that went into a repair. A line put down in error is struck out and stays on record."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="parts")
    words = models.CharField(max_length=80)
    part_number = models.CharField(max_length=40, blank=True)
    quantity = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal(1))
    # Null: not known when it was fitted.
    unit_cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    # Another cart it was taken from, which is told as a defect there; null: from the store.
    taken_from_cart = models.ForeignKey(
        Cart, null=True, blank=True, on_delete=models.PROTECT, related_name="parts_given"
    )
    used_at = models.DateTimeField()
    used_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["used_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(quantity__gt=0),
                name="servicing_partused_quantity_positive",
                violation_error_message="At least some of a part was used.",
            ),
            models.CheckConstraint(
                condition=models.Q(unit_cost=None) | models.Q(unit_cost__gte=0),
                name="servicing_partused_cost_not_below_nothing",
                violation_error_message="A part costs nothing or more.",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at=None, struck_by=None)
                | models.Q(struck_at__isnull=False, struck_by__isnull=False),
                name="servicing_partused_struck_by_somebody",
                violation_error_message="A line struck out says by whom.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.words}"

    @property
    def cost(self) -> Decimal | None:
        """Of the whole line, exact; None when the unit cost is not known."""
        return None if self.unit_cost is None else self.unit_cost * self.quantity


class RepairTime(Row):
    """How long repairs of one check at one grade are expected to take (servicing.repair_times), rebuilt each night."""

    check_key = models.CharField(max_length=80)
    grade = models.CharField(max_length=10, choices=GRADES)
    expected_minutes = models.PositiveIntegerField()
    # How many past repairs of the check, of any grade, stand behind it, and the middle half of them (null under four).
    repairs = models.PositiveIntegerField()
    low_minutes = models.PositiveIntegerField(null=True, blank=True)
    high_minutes = models.PositiveIntegerField(null=True, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["check_key", "grade"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["check_key", "grade"],
                name="servicing_repairtime_one_a_check_and_grade",
                violation_error_message="This check and grade have their repair time already.",
            ),
            models.CheckConstraint(
                condition=models.Q(expected_minutes__gt=0),
                name="servicing_repairtime_takes_some_time",
                violation_error_message="A repair takes some time.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_key} at {self.grade}: {self.expected_minutes} min"
