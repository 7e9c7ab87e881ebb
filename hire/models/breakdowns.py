"""Breakdowns that customers' people report through their link."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from fleet.models.defects import Defect
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.off_hire import OffHire
from people.rows import SealedRow


class BreakdownQuerySet(models.QuerySet["Breakdown"]):
    def still_down(self) -> BreakdownQuerySet:
        """Its defect stands open, and the cart is neither back nor swapped for another."""
        standing = self.filter(defect__closed_at=None, line__back_at=None)
        return standing.exclude(line__in=OffHire.objects.swaps().values("line"))


class Breakdown(SealedRow):
    """What was reported, written once; what becomes of it is its defect's. The id is made of the link's and the form's, so
    that one form sent twice is one report."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="breakdowns")
    link = models.ForeignKey(CustomerLink, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    words = models.CharField(max_length=400)
    can_be_driven = models.BooleanField()
    phone = models.CharField(max_length=30)
    defect = models.OneToOneField(Defect, on_delete=models.PROTECT, related_name="breakdown")

    objects: ClassVar[BreakdownQuerySet] = BreakdownQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-at"]

    def __str__(self) -> str:
        return f"breakdown of {self.line_id}"
