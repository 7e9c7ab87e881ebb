"""Who is told of what, when and how: rows written with the alerts themselves, so that losing Redis loses nobody's notice.

A telling is owed for one alert at one rank and one step up the line. Tellings that are due together become one notice to
one person, and a notice is delivered by one or more channels. Unique rows, not code, forbid telling anybody twice.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.alerts.models.alerts import RANKS, Alert
from people.rows import Row

# Steps from here on are a set-aside alert coming back on its day, which tells the same person again on purpose.
BACK_AGAIN = 100
OUTCOMES = [
    ("", "Not due yet"),
    ("told", "Told"),
    ("cleared", "It cleared before"),
    ("taken", "Somebody had it"),
    ("aside", "It was set aside"),
    ("other_rank", "It had another rank by then"),
    ("nobody", "Nobody was left to tell"),
]
CHANNELS = [("email", "email"), ("callout", "call-out"), ("screen", "on screen")]


class Notice(Row):
    """One message to one person, its words frozen when it was put together: sent again, it is the same message."""

    # What it is, once and for all: the weekly report of a week exists once.
    key = models.CharField(max_length=80, unique=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="notices")
    # Empty: no alert, a report.
    rank = models.CharField(max_length=5, choices=RANKS, blank=True)
    why = models.CharField(max_length=160)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    # For a voice or a text: one or two sentences.
    spoken = models.CharField(max_length=320, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["-made_at"], name="alerts_notice_latest")
        ]

    def __str__(self) -> str:
        return self.subject


class TellingQuerySet(models.QuerySet["Telling"]):
    def waiting(self, *, at: datetime) -> TellingQuerySet:
        return self.filter(outcome="", available_at__lte=at)


class Telling(Row):
    alert = models.ForeignKey(Alert, on_delete=models.CASCADE, related_name="tellings")
    rank = models.CharField(max_length=5, choices=RANKS)
    # 0, and one more each time the alert rises to this rank again after more than a day below it.
    turn = models.PositiveSmallIntegerField(default=0)
    step = models.PositiveSmallIntegerField()
    available_at = models.DateTimeField()
    outcome = models.CharField(max_length=10, choices=OUTCOMES, blank=True)
    # Null: not due yet.
    settled_at = models.DateTimeField(null=True)
    # Null unless told.
    notice = models.ForeignKey(Notice, null=True, on_delete=models.PROTECT, related_name="tellings")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    objects: ClassVar[TellingQuerySet] = TellingQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["available_at"], condition=models.Q(outcome=""), name="alerts_telling_waiting"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["alert", "rank", "turn", "step"],
                name="alerts_telling_once_a_step",
                violation_error_message="This alert is told once at each step.",
            ),
            models.UniqueConstraint(
                fields=["alert", "rank", "turn", "person"],
                condition=models.Q(step__lt=BACK_AGAIN),
                name="alerts_telling_nobody_twice",
                violation_error_message="This person was told of this alert already.",
            ),
            models.CheckConstraint(
                condition=models.Q(outcome="", settled_at=None, notice=None, person=None)
                | models.Q(
                    outcome="told", settled_at__isnull=False, notice__isnull=False, person__isnull=False
                )
                | models.Q(~models.Q(outcome__in=["", "told"]), settled_at__isnull=False, notice=None),
                name="alerts_telling_settled_whole",
                violation_error_message="A telling that is told has its notice and its person.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rank}, step {self.step}"


class DeliveryQuerySet(models.QuerySet["Delivery"]):
    def waiting(self, *, at: datetime) -> DeliveryQuerySet:
        return self.filter(sent_at=None, given_up_at=None, available_at__lte=at)

    def failing(self) -> DeliveryQuerySet:
        """Not sent, and tried in vain."""
        return self.filter(sent_at=None).exclude(last_error="")


class Delivery(Row):
    """A notice by one channel to one address. Claimed before it is sent, so that a crash shows as a claim without end."""

    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="deliveries")
    channel = models.CharField(max_length=7, choices=CHANNELS)
    address = models.CharField(max_length=254, blank=True)
    # When it may next be tried; pushed on by a claim and by a failure.
    available_at = models.DateTimeField()
    # Null: nobody is at it. Set and past available_at: whoever was at it died, and may or may not have sent it.
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    # Null: still to be sent. last_error says why.
    given_up_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    unknown_ends = models.PositiveSmallIntegerField(default=0)
    last_error = models.CharField(max_length=300, blank=True)

    objects: ClassVar[DeliveryQuerySet] = DeliveryQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["available_at"],
                condition=models.Q(sent_at=None, given_up_at=None),
                name="alerts_delivery_waiting",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["notice", "channel"],
                name="alerts_delivery_once_a_channel",
                violation_error_message="A notice goes once by each channel.",
            ),
            models.CheckConstraint(
                condition=models.Q(sent_at=None) | models.Q(given_up_at=None),
                name="alerts_delivery_sent_or_given_up",
                violation_error_message="A delivery is sent or given up, not both.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.channel} to {self.address}"
