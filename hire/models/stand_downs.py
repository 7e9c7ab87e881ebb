"""Days claimed as stood down, how the yard answered, and days struck out again. What was written stays as it was written."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.defects import Defect
from hire.models.agreements import BREAKDOWN_CAUSES, STAND_DOWN_KINDS, Line, StandDown
from hire.models.links import CustomerLink
from people.rows import SealedRow


class StandDownStrike(SealedRow):
    """A day stood down by mistake: it counts for nothing from then on."""

    stand_down = models.OneToOneField(StandDown, on_delete=models.PROTECT, related_name="strike")
    why = models.CharField(max_length=240)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(why=""),
                name="hire_standdownstrike_says_why",
                violation_error_message="Say why the day is struck out.",
            ),
        ]

    def __str__(self) -> str:
        return f"strike of {self.stand_down_id}"


class StandDownClaimQuerySet(models.QuerySet["StandDownClaim"]):
    def open(self) -> StandDownClaimQuerySet:
        return self.filter(answer=None)

    def for_list(self) -> StandDownClaimQuerySet:
        return self.select_related(
            "line__cart", "line__agreement__customer", "made_by", "link", "defect", "answer__made_by"
        )


class StandDownClaim(SealedRow):
    """A day that somebody says the cart was not worked. It changes nothing until a person of the yard agrees it."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="stand_down_claims")
    on = models.DateField()
    # Which claim of its day this is: another one follows once the yard answered the one before.
    nth = models.PositiveSmallIntegerField(default=1)
    kind = models.CharField(max_length=9, choices=STAND_DOWN_KINDS)
    why = models.CharField(max_length=120)
    told_at = models.DateTimeField()
    told_by_words = models.CharField(max_length=120)
    # As those of a day stood down.
    worked_hours = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    lost_hours = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    cause = models.CharField(max_length=6, choices=BREAKDOWN_CAUSES, blank=True)
    customer_words = models.CharField("What the customer says", max_length=240, blank=True)
    yard_words = models.CharField("What the yard says", max_length=240, blank=True)
    # The breakdown it was proposed for; null: no breakdown was reported.
    defect = models.ForeignKey(Defect, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    # Null: it came by the customer's link.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[StandDownClaimQuerySet] = StandDownClaimQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["on", "made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "on", "nth"],
                name="hire_standdownclaim_in_turn",
                violation_error_message="This day is claimed already.",
            ),
            models.CheckConstraint(
                condition=models.Q(made_by=None, link__isnull=False)
                | models.Q(made_by__isnull=False, link=None),
                name="hire_standdownclaim_told_or_by_link",
                violation_error_message="A claim is told to somebody of the yard, or comes by a customer’s link.",
            ),
            models.CheckConstraint(
                condition=models.Q(told_at__lte=models.F("made_at")),
                name="hire_standdownclaim_told_before_written",
                violation_error_message="A claim is written down once it was told.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}"

    @property
    def is_open(self) -> bool:
        return not hasattr(self, "answer")


class ClaimAnswer(SealedRow):
    """The yard agreed the day, or refused it with words."""

    claim = models.OneToOneField(StandDownClaim, on_delete=models.PROTECT, related_name="answer")
    # The day it became; null: refused.
    stand_down = models.OneToOneField(
        StandDown, null=True, on_delete=models.PROTECT, related_name="claim_answer"
    )
    words = models.CharField(max_length=240, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(stand_down__isnull=False) | ~models.Q(words=""),
                name="hire_claimanswer_refusal_says_why",
                violation_error_message="A claim is refused with words.",
            ),
        ]

    def __str__(self) -> str:
        return f"answer to {self.claim_id}"
