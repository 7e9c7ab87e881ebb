"""Deposits: what was asked, taken, given back, or set off against a docket, each written once."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Agreement
from hire.models.money import Docket
from people.rows import SealedRow

KINDS = [
    ("asked", "Asked for"), ("taken", "Taken"), ("given_back", "Given back"), ("set_off", "Set off against a docket"),
]  # fmt: skip


class DepositEntry(SealedRow):
    """One step of the deposit of an agreement, for all its carts. A wrong one is put right by the step the other way."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="deposit")
    kind = models.CharField(max_length=10, choices=KINDS)
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    words = models.CharField("How, and its receipt", max_length=160)
    # Null: none but what is set off names one.
    docket = models.ForeignKey(Docket, null=True, on_delete=models.PROTECT, related_name="set_off")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="hire_depositentry_above_zero",
                violation_error_message="A deposit is above zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="set_off", docket__isnull=False)
                | (models.Q(kind__in=["asked", "taken", "given_back"]) & models.Q(docket=None)),
                name="hire_depositentry_set_off_names_docket",
                violation_error_message="What is set off names its docket, and nothing else does.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.amount}"
