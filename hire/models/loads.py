"""Loads of water on a hire, a row a load, and the rows that take one back."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.water.history import SOURCES
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.operators import OperatorLink
from people.rows import SealedRow

TOLD_BY_ONE = (
    models.Q(link__isnull=False, operator_link=None, by=None)
    | models.Q(link=None, operator_link__isnull=False, by=None)
    | models.Q(link=None, operator_link=None, by__isnull=False)
)


class LoadQuerySet(models.QuerySet["Load"]):
    def counted(self) -> LoadQuerySet:
        """Those nobody took back."""
        return self.filter(undone=None)

    def between(self, start: datetime, end: datetime) -> LoadQuerySet:
        return self.filter(taken_at__gte=start, taken_at__lt=end)

    def for_list(self) -> LoadQuerySet:
        return self.select_related("by", "undone__by")


class Load(SealedRow):
    """A tank filled for this hire. The id is made of the page's own, so that a tap sent twice is one load."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="loads")
    taken_at = models.DateTimeField()
    fill_point = models.CharField(max_length=80)
    litres = models.PositiveIntegerField()
    # "": put down before this was asked.
    source = models.CharField(max_length=13, choices=list(SOURCES.items()), blank=True)
    # Licence, standpipe or hydrant number.
    permit_words = models.CharField(max_length=60, blank=True)
    told_at = models.DateTimeField()
    # By one of the three: the customer's link, the operator's, or somebody of the yard.
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")
    operator_link = models.ForeignKey(OperatorLink, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=120)

    objects: ClassVar[LoadQuerySet] = LoadQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-taken_at", "-told_at", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["line", "-taken_at"], name="hire_load_of_line"),
            models.Index(fields=["line", "source"], name="hire_load_water"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(litres__gt=0) & ~models.Q(fill_point=""),
                name="hire_load_somewhere",
                violation_error_message="A load has litres above zero and a fill point.",
            ),
            models.CheckConstraint(
                condition=models.Q(source__in=["", *SOURCES]),
                name="hire_load_water_known",
                violation_error_message="Choose what water it is.",
            ),
            models.CheckConstraint(
                condition=models.Q(told_at__gte=models.F("taken_at")),
                name="hire_load_has_happened",
                violation_error_message="A load is put down once it is taken.",
            ),
            models.CheckConstraint(
                condition=TOLD_BY_ONE,
                name="hire_load_told_by_one",
                violation_error_message="A load is put down by the customer's link, the operator's, or somebody of the yard.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.litres:,} L from {self.fill_point}"

    @property
    def undoing(self) -> LoadUndone | None:
        return getattr(self, "undone", None)


class LoadUndone(SealedRow):
    """Takes a load back that was put down wrongly; both rows stay."""

    load = models.OneToOneField(Load, on_delete=models.PROTECT, related_name="undone")
    undone_at = models.DateTimeField()
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")
    operator_link = models.ForeignKey(OperatorLink, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=120)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=TOLD_BY_ONE,
                name="hire_loadundone_by_one",
                violation_error_message="A load is taken back by the customer's link, the operator's, or somebody of the yard.",
            ),
        ]

    def __str__(self) -> str:
        return f"taken back by {self.by_words}"
