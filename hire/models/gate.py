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
    # Null: the driver who collected it, on a phone; then by_words says who.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=240, blank=True)
    # The sealed paper it names; blank: it left without one.
    certificate_number = models.CharField(max_length=24, blank=True)
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
    # Of a late entry: what stopped the cart as it left, a sentence a line, and why it left all the same; blank: nothing.
    left_although = models.TextField(blank=True)
    although_words = models.CharField(max_length=240, blank=True)
    # What stopped it as this was entered and had not as it left; blank: nothing.
    stopped_since = models.TextField(blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(left_although="", although_words="")
                | ~models.Q(left_although="") & ~models.Q(although_words=""),
                name="hire_handover_although_says_why",
                violation_error_message="A cart that left although something stopped it has somebody's words why.",
            ),
            models.CheckConstraint(
                condition=~models.Q(certificate_number="") | ~models.Q(left_although=""),
                name="hire_handover_no_paper_says_so",
                violation_error_message="A cart leaves on a certificate, or it is written down that it had none.",
            ),
            models.CheckConstraint(
                condition=models.Q(mode="left", taken_by_name="")
                | (models.Q(mode="signed") & ~models.Q(taken_by_name="")),
                name="hire_handover_signed_or_left",
                violation_error_message="A handover is signed by a named person, or the cart was left with nobody present.",
            ),
            models.CheckConstraint(
                condition=models.Q(by__isnull=False, by_words="")
                | models.Q(by=None, left_although="", by_words__regex=r"\S"),
                name="hire_handover_by_somebody",
                violation_error_message="A cart is handed over by somebody of the yard, or by the driver who collects it.",
            ),
            models.CheckConstraint(
                condition=models.Q(fuel_eighths__lte=8),
                name="hire_handover_fuel_in_eighths",
                violation_error_message="Fuel is 0 to 8 eighths.",
            ),
        ]

    def __str__(self) -> str:
        return f"handover of {self.line_id}"

    @property
    def who(self) -> str:
        """By whom: a person of the yard, or the driver who collected it."""
        return self.by.full_name if self.by else self.by_words

    @property
    def asks_a_look(self) -> bool:
        """Whether the fleet manager is to look at it: something stopped the cart as it left, or as that was entered later."""
        return bool(self.left_although or self.stopped_since)

    @property
    def although(self) -> list[str]:
        return self.left_although.splitlines()

    @property
    def since(self) -> list[str]:
        return self.stopped_since.splitlines()


class HandoverLook(SealedRow):
    """The fleet manager has looked at a late entry of a cart that something stopped, and says what came of it."""

    handover = models.OneToOneField(Handover, on_delete=models.PROTECT, related_name="look")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=240)

    def __str__(self) -> str:
        return f"look at {self.handover_id}"


class HandoverPhoto(SealedRow):
    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=80, blank=True)
    # The side of the cart it shows, as a station; blank: no side.
    station = models.CharField(max_length=24, blank=True)

    def __str__(self) -> str:
        return f"photo of {self.handover_id}"
