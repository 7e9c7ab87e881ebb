"""Days outside the week agreed on which a named person says a cart worked."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from people.rows import Row


class WorkedDay(Row):
    """A day that is charged on somebody's word, where no pre-start, load, docket or clock says that the cart worked."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="worked_days")
    on = models.DateField()
    told_by_words = models.CharField("Who says so", max_length=120)
    told_at = models.DateTimeField()
    words = models.CharField("What was said", max_length=240, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    struck_at = models.DateTimeField(null=True)
    struck_why = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "on"],
                condition=models.Q(struck_at=None),
                name="hire_workedday_once_a_day",
                violation_error_message="This day is written down as worked already.",
            ),
            models.CheckConstraint(
                condition=~models.Q(told_by_words="") & models.Q(told_at__lte=models.F("made_at")),
                name="hire_workedday_said_by_somebody",
                violation_error_message="That a cart worked is said by a named person, before it is written down.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}"
