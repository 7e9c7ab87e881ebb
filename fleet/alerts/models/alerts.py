"""One open alert per rule and subject: the database, not code, forbids a second."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.alerts.timing import LONGEST_HELD_DAYS
from fleet.models.carts import Cart
from people.models import Staff
from people.roles import ROLE_CHOICES
from people.rows import Row

RANKS = [("stop", "Stop"), ("today", "Today"), ("soon", "Soon")]


class AlertQuerySet(models.QuerySet["Alert"]):
    def open(self) -> AlertQuerySet:
        """The cause stands, whether or not somebody set the alert aside."""
        return self.filter(cleared_at=None)

    def asking(self, *, on: date) -> AlertQuerySet:
        """Open and not set aside: what counts in the head of every page."""
        return self.open().filter(models.Q(held_until=None) | models.Q(held_until__lte=on))

    def set_aside(self, *, on: date) -> AlertQuerySet:
        return self.open().filter(held_until__gt=on)

    def cleared_since(self, at: datetime) -> AlertQuerySet:
        return self.filter(cleared_at__gte=at)

    def for_role(self, role: str) -> AlertQuerySet:
        """Alerts addressed to a role; the fleet manager sees all."""
        return self if role == "fleet_manager" else self.filter(for_role=role)

    def for_person(self, person: Staff) -> AlertQuerySet:
        """Alerts of the person's role, and those another role's that were told to them by name, as who is on call."""
        if person.role == "fleet_manager":
            return self
        told = Alert.objects.filter(cleared_at=None, tellings__person=person)
        return self.filter(models.Q(for_role=person.role) | models.Q(pk__in=told.values("pk")))

    def worst_first(self) -> AlertQuerySet:
        return self.annotate(rank_order=rank_order()).order_by(
            "rank_order", models.F("due_at").asc(nulls_last=True), "raised_at", "pk"
        )


def rank_order() -> models.Case:
    return models.Case(
        models.When(rank="stop", then=0), models.When(rank="today", then=1), default=2,
        output_field=models.IntegerField(),
    )  # fmt: skip


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
    # The one thing to do, as a button says it. Empty: open its record.
    act = models.CharField(max_length=40, blank=True)
    # How old the evidence is. Null: a date on record, as good today as ever.
    evidence_at = models.DateTimeField(null=True)
    # Null: no date.
    due_at = models.DateTimeField(null=True)
    raised_at = models.DateTimeField()
    # Since when it has its rank. Null: since it was raised.
    ranked_at = models.DateTimeField(null=True)
    # When its rank last fell. Null: never.
    fell_at = models.DateTimeField(null=True)
    # Null: the cause stands.
    cleared_at = models.DateTimeField(null=True)
    # A cause that was gone for less than a day is the same one. Null: it never came back.
    reopened_at = models.DateTimeField(null=True)
    times_reopened = models.PositiveSmallIntegerField(default=0)
    # "I've got it": null until somebody takes it.
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_at = models.DateTimeField(null=True)
    # Set aside: from a day until a day, on which it asks again by itself. Null: never, or taken back.
    held_on = models.DateField(null=True)
    held_until = models.DateField(null=True)
    held_because = models.CharField(max_length=240, blank=True)
    held_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    held_at = models.DateTimeField(null=True)
    times_held = models.PositiveSmallIntegerField(default=0)
    # Any change to the row. Null: as it was raised.
    changed_at = models.DateTimeField(null=True)

    objects: ClassVar[AlertQuerySet] = AlertQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["for_role", "rank"], condition=models.Q(cleared_at=None), name="alerts_alert_open"
            ),
            models.Index(
                fields=["rule", "cleared_at"],
                condition=models.Q(cleared_at__isnull=False),
                name="alerts_alert_cleared",
            ),
            models.Index(fields=["raised_at"], name="alerts_alert_raised"),
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
            models.CheckConstraint(
                condition=models.Q(held_until=None) | ~models.Q(rank="stop"),
                name="alerts_alert_stop_never_aside",
                violation_error_message="A stop is never set aside.",
            ),
            models.CheckConstraint(
                condition=models.Q(held_until=None)
                | models.Q(
                    held_until__gt=models.F("held_on"),
                    held_until__lte=models.F("held_on") + timedelta(days=LONGEST_HELD_DAYS),
                ),
                name="alerts_alert_aside_two_weeks_at_most",
                violation_error_message="An alert is set aside for 1 to 14 days.",
            ),
            models.CheckConstraint(
                condition=models.Q(held_until=None, held_on=None, held_by=None, held_at=None, held_because="")
                | models.Q(
                    held_until__isnull=False,
                    held_on__isnull=False,
                    held_by__isnull=False,
                    held_at__isnull=False,
                    held_because__regex=r"\S",
                ),
                name="alerts_alert_aside_by_somebody",
                violation_error_message="An alert is set aside by somebody, until a day, because of something.",
            ),
        ]

    def __str__(self) -> str:
        return self.what

    @property
    def is_in_hand(self) -> bool:
        """Somebody took it at the rank it has now; one that has become a stop since asks again."""
        if self.taken_at is None:
            return False
        return self.rank != "stop" or self.ranked_at is None or self.taken_at >= self.ranked_at

    def is_aside(self, *, on: date) -> bool:
        return self.held_until is not None and self.held_until > on


# What lets a set-aside alert ask again; written as one, since the database wants all or none.
NOT_ASIDE: dict[str, str | None] = {
    "held_on": None,
    "held_until": None,
    "held_because": "",
    "held_by": None,
    "held_at": None,
}


class SweepRunQuerySet(models.QuerySet["SweepRun"]):
    def finished(self) -> SweepRunQuerySet:
        return self.filter(finished_at__isnull=False)

    def last_finished_at(self) -> datetime | None:
        """When the newest sweep that came to its end ended; None: none ever has."""
        return self.finished().order_by("-finished_at").values_list("finished_at", flat=True).first()


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
