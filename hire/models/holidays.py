"""Days that this yard keeps, or does not keep, as public holidays, whatever the calendar says."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from people.rows import Row

KINDS = [("added", "A holiday here"), ("struck", "No holiday here")]


class YardDayQuerySet(models.QuerySet["YardDay"]):
    def standing(self) -> YardDayQuerySet:
        return self.filter(ended_at=None)


class YardDay(Row):
    """One day the yard decided itself: a show day added, or a day of the calendar struck."""

    on = models.DateField()
    kind = models.CharField(max_length=6, choices=KINDS)
    what = models.CharField(max_length=80)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    ended_at = models.DateTimeField(null=True)

    objects: ClassVar[YardDayQuerySet] = YardDayQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["on"],
                condition=models.Q(ended_at=None),
                name="hire_yardday_once",
                violation_error_message="The yard has decided about this day already.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind__in=[kind for kind, _ in KINDS]),
                name="hire_yardday_kind_known",
                violation_error_message="A day is added to the holidays or struck from them.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on} {self.kind}"
