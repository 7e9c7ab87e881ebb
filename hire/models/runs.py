"""What a driver has to know of a cart's run: typed once, on the hire, and read from the run sheet."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from people.rows import Row

LEGS = [("out", "To the work"), ("back", "Back to the yard")]


class RunNote(Row):
    """One way of one cart's hire, out or back: who drives it, when work starts, whom to ask for. Empty: not known yet."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="run_notes")
    leg = models.CharField(max_length=4, choices=LEGS)
    driver_words = models.CharField(max_length=80, blank=True)
    # By the clock of the place of work.
    start = models.TimeField(null=True, blank=True)
    contact_words = models.CharField(max_length=120, blank=True)
    channel_words = models.CharField(max_length=40, blank=True)
    water_point_words = models.CharField(max_length=120, blank=True)
    float_words = models.CharField(max_length=120, blank=True)
    words = models.CharField(max_length=240, blank=True)
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "leg"],
                name="hire_runnote_once_a_leg",
                violation_error_message="This run is written down already. Change it instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(leg__in=[leg for leg, _ in LEGS]),
                name="hire_runnote_leg_known",
                violation_error_message="A run goes to the work or back to the yard.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_leg_display()}: {self.line_id}"
