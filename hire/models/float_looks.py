"""What was seen of a floated cart as it was loaded, and again as it was unloaded."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from hire.models.agreements import LATE_AFTER, Line
from people.rows import SealedRow

KINDS = [("loading", "As it was loaded"), ("unloading", "As it was unloaded")]
EYES = [("ours", "One of us"), ("driver", "The float’s driver"), ("customer", "The customer’s person")]


class FloatLook(SealedRow):
    """One look at a cart on a float, written once. `by` wrote it down; `eyes_words` is who looked."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="float_looks")
    # Another cart may be sent on the hire later.
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=9, choices=KINDS)
    happened_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    eyes = models.CharField(max_length=8, choices=EYES)
    eyes_words = models.CharField(max_length=80)
    # Which float, and who drives it; who tied it down. Blank at unloading.
    float_words = models.CharField(max_length=120, blank=True)
    tied_by_words = models.CharField(max_length=80, blank=True)
    # The points of its travel state that were looked at, by key (hire.float_words); none at unloading.
    travel = models.JSONField(default=list, blank=True)
    # What was new; blank: nothing.
    new_words = models.CharField(max_length=240, blank=True)
    defect = models.ForeignKey(Defect, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["happened_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(kind="unloading", float_words="", tied_by_words="")
                | models.Q(kind="loading") & ~models.Q(float_words="") & ~models.Q(tied_by_words=""),
                name="hire_floatlook_loading_says_how",
                violation_error_message="A loading says which float, and who tied the cart down.",
            ),
            models.CheckConstraint(
                condition=models.Q(eyes__in=[key for key, _ in EYES]) & ~models.Q(eyes_words=""),
                name="hire_floatlook_somebody_looked",
                violation_error_message="Somebody with a name looked at it.",
            ),
            models.CheckConstraint(
                condition=models.Q(happened_at__lte=models.F("entered_at")),
                name="hire_floatlook_entered_after_it_happened",
                violation_error_message="A look is written down once it happened.",
            ),
            models.UniqueConstraint(
                fields=["line"],
                condition=models.Q(kind="unloading"),
                name="hire_floatlook_unloaded_once",
                violation_error_message="The cart was looked at as it was unloaded already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.line_id}"

    @property
    def entered_late(self) -> bool:
        return self.entered_at - self.happened_at > LATE_AFTER


class FloatLookPhoto(SealedRow):
    look = models.ForeignKey(FloatLook, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"photo of {self.look_id}"
