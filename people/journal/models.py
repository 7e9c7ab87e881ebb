"""The journal: one chain of hashed rows for each cart and one for the yard. Written once, by the database's own trigger."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from people.journal.events import Event
from people.rows import SealedRow


class ChainHead(models.Model):
    """Where each chain stands. Only the trigger, running as the owner, writes here."""

    chain = models.CharField(max_length=60, primary_key=True)
    position = models.BigIntegerField()
    hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.chain} at {self.position}"


class Entry(SealedRow):
    """One thing that was done. `text` is canonical JSON of everything the row says; the hash covers it."""

    chain = models.CharField(max_length=60)
    position = models.BigIntegerField(default=0)
    # One of people.journal.events.Event; that list grows without a change to this table.
    event = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=40)
    subject_id = models.UUIDField()
    # Entries of one action over several carts share this.
    action_id = models.UUIDField()
    # Null: the clock or a customer did it; `by_words` always says who.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=120)
    at = models.DateTimeField()
    text = models.TextField()
    previous_hash = models.CharField(max_length=64, default="")
    hash = models.CharField(max_length=64, default="")

    class Meta:
        ordering: ClassVar[list[str]] = ["chain", "position"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["subject_kind", "subject_id"], name="journal_entry_subject"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["chain", "position"],
                name="journal_entry_one_per_position",
                violation_error_message="This place in the journal is taken.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.by_words} {Event(self.event).wording}"

    @property
    def wording(self) -> str:
        return Event(self.event).wording
