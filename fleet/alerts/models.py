"""One open alert per rule and subject: the database, not code, forbids a second."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from people.roles import ROLE_CHOICES
from people.rows import Row

RANKS = [("stop", "Stop"), ("today", "Today"), ("soon", "Soon")]


class AlertQuerySet(models.QuerySet["Alert"]):
    def open(self) -> AlertQuerySet:
        return self.filter(cleared_at=None)

    def for_role(self, role: str) -> AlertQuerySet:
        """Alerts addressed to a role; the fleet manager sees all."""
        return self if role == "fleet_manager" else self.filter(for_role=role)

    def worst_first(self) -> AlertQuerySet:
        rank = models.Case(
            models.When(rank="stop", then=0), models.When(rank="today", then=1), default=2,
            output_field=models.IntegerField(),
        )  # fmt: skip
        return self.annotate(rank_order=rank).order_by(
            "rank_order", models.F("due_at").asc(nulls_last=True), "raised_at"
        )


class Alert(Row):
    rule = models.CharField(max_length=40)
    subject_kind = models.CharField(max_length=20)
    subject_id = models.UUIDField()
    # Null: about the yard, not one cart.
    cart = models.ForeignKey(Cart, null=True, on_delete=models.CASCADE, related_name="alerts")
    rank = models.CharField(max_length=5, choices=RANKS)
    for_role = models.CharField(max_length=20, choices=ROLE_CHOICES)
    # What, how we know, what happens if not: ready sentences, so a screen needs no rule.
    what = models.CharField(max_length=240)
    how_we_know = models.CharField(max_length=240)
    if_not = models.CharField(max_length=240)
    # Null: no date.
    due_at = models.DateTimeField(null=True)
    raised_at = models.DateTimeField()
    # Null: the cause stands.
    cleared_at = models.DateTimeField(null=True)
    # "I've got it": null until somebody takes it.
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_at = models.DateTimeField(null=True)

    objects: ClassVar[AlertQuerySet] = AlertQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["for_role", "rank"], condition=models.Q(cleared_at=None), name="alerts_alert_open"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["rule", "subject_kind", "subject_id"],
                condition=models.Q(cleared_at=None),
                name="alerts_alert_one_open",
                violation_error_message="This alert is already open.",
            ),
            models.CheckConstraint(
                condition=models.Q(cleared_at=None) | models.Q(cleared_at__gte=models.F("raised_at")),
                name="alerts_alert_period_in_order",
                violation_error_message="An alert is cleared after it was raised.",
            ),
        ]

    def __str__(self) -> str:
        return self.what


class SweepRunQuerySet(models.QuerySet["SweepRun"]):
    def finished(self) -> SweepRunQuerySet:
        return self.filter(finished_at__isnull=False)


class SweepRun(Row):
    started_at = models.DateTimeField()
    # Null: it never finished.
    finished_at = models.DateTimeField(null=True)
    raised = models.PositiveIntegerField(default=0)
    cleared = models.PositiveIntegerField(default=0)
    # Names of rules that raised an error; their alerts were left as they were.
    failed_rules = models.CharField(max_length=400, blank=True)

    objects: ClassVar[SweepRunQuerySet] = SweepRunQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["-finished_at"], name="alerts_sweeprun_latest")
        ]

    def __str__(self) -> str:
        return f"sweep of {self.started_at:%Y-%m-%d %H:%M}"
