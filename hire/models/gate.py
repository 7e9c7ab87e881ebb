"""What really happened at the gate, written once."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.photos import Photo
from hire.models.agreements import Line
from people.rows import SealedRow


class Handover(SealedRow):
    """The moment at the gate, written once: who took it, or that nobody was there, and what the yard saw."""

    line = models.OneToOneField(Line, on_delete=models.PROTECT, related_name="handover")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # The sealed paper it names.
    certificate_number = models.CharField(max_length=24)
    mode = models.CharField(
        max_length=6, choices=[("signed", "Signed by the customer"), ("left", "Left, nobody present")]
    )
    place_words = models.CharField(max_length=120)
    taken_by_name = models.CharField(max_length=80, blank=True)
    signature_kind = models.CharField(max_length=5, blank=True)
    signature_strokes = models.TextField(blank=True)
    # One thing handed over a line: standpipe with its serial, hydrant key, hose, handbook.
    items_words = models.TextField(blank=True)
    keys_words = models.CharField(max_length=80)
    condition_words = models.CharField(max_length=240)
    fuel_eighths = models.PositiveSmallIntegerField()
    limits_accepted = models.BooleanField(default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(mode="left", taken_by_name="")
                | (models.Q(mode="signed") & ~models.Q(taken_by_name="")),
                name="hire_handover_signed_or_left",
                violation_error_message="A handover is signed by a named person, or the cart was left with nobody present.",
            ),
            models.CheckConstraint(
                condition=models.Q(fuel_eighths__lte=8),
                name="hire_handover_fuel_in_eighths",
                violation_error_message="Fuel is 0 to 8 eighths.",
            ),
        ]

    def __str__(self) -> str:
        return f"handover of {self.line_id}"


class HandoverPhoto(SealedRow):
    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=80, blank=True)
    # The side of the cart it shows, as a station; blank: no side.
    station = models.CharField(max_length=24, blank=True)

    def __str__(self) -> str:
        return f"photo of {self.handover_id}"
