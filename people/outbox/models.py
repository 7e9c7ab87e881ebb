"""Work that must happen after a commit: a row in the same transaction, so that losing Redis loses nothing."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.db import models

from people.rows import Row


class MessageQuerySet(models.QuerySet["Message"]):
    def waiting(self, *, at: datetime) -> MessageQuerySet:
        return self.filter(done_at=None, available_at__lte=at)

    def stuck(self) -> MessageQuerySet:
        """Tried many times and still not done: a person should look."""
        return self.filter(done_at=None, tries__gte=8)


class Message(Row):
    kind = models.CharField(max_length=60)
    subject_id = models.UUIDField()
    made_at = models.DateTimeField()
    # When it may next be tried; pushed on after each failure.
    available_at = models.DateTimeField()
    tries = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True)
    last_error = models.TextField(blank=True)

    objects: ClassVar = MessageQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["made_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["available_at"], condition=models.Q(done_at=None), name="outbox_message_waiting"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["kind", "subject_id"],
                condition=models.Q(done_at=None),
                name="outbox_message_once_waiting",
                violation_error_message="This work is already waiting.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"
