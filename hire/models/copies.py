"""Copies of the pre-starts of a hire that keeps its own book or system."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.photos import Photo
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from people.rows import SealedRow

MONDAY = 1


class PreStartCopy(SealedRow):
    """A page of one week, photographed; or that none will come, and why."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="pre_start_copies")
    # Its Monday.
    week_on = models.DateField()
    # Null: none will come.
    photo = models.ForeignKey(Photo, null=True, on_delete=models.PROTECT, related_name="+")
    why_none = models.CharField(max_length=240, blank=True)
    sent_by_words = models.CharField("Who sent it", max_length=120)
    at = models.DateTimeField()
    # By one of the two: the customer's link, or somebody of the yard.
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["week_on", "at", "pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "week_on", "photo"],
                nulls_distinct=False,
                name="hire_prestartcopy_page_once",
                violation_error_message="This page is here for that week already.",
            ),
            models.CheckConstraint(
                condition=models.Q(week_on__iso_week_day=MONDAY),
                name="hire_prestartcopy_from_monday",
                violation_error_message="A week is named by its Monday.",
            ),
            models.CheckConstraint(
                condition=models.Q(by=None, link__isnull=False) | models.Q(by__isnull=False, link=None),
                name="hire_prestartcopy_by_one",
                violation_error_message="A page came by a customer’s link, or somebody of the yard kept it.",
            ),
            models.CheckConstraint(
                condition=models.Q(photo__isnull=False, why_none="")
                | models.Q(photo=None, by__isnull=False) & ~models.Q(why_none=""),
                name="hire_prestartcopy_or_says_why",
                violation_error_message="There is a page, or somebody of the yard says why none will come.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line_id}, week of {self.week_on}"
