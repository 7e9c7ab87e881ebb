"""What water a cart carried on a hire, as it was told once it was back."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.water.history import SOURCES
from hire.models.agreements import Line
from people.rows import SealedRow


class WaterTold(SealedRow):
    """One answer; told again, the newest counts. The loads put down count beside it."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="water_told")
    source = models.CharField(max_length=13, choices=list(SOURCES.items()))
    # Who says so, or what was wrong with the answer before.
    words = models.CharField(max_length=240, blank=True)
    told_at = models.DateTimeField()
    told_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-told_at", "pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["line", "-told_at"], name="hire_watertold_newest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(source__in=list(SOURCES)),
                name="hire_watertold_source_known",
                violation_error_message="Choose what the tank carried.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_source_display()
