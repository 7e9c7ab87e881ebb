"""The pack of papers a site wants ahead of a cart: what it said, its file, when it was sent, what the site answered."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from hire.models.agreements import Line
from people.rows import SealedRow

HOW_SENT = [
    ("email", "By email"), ("portal", "Put into their own system"), ("hand", "By hand"), ("post", "By post"),
]  # fmt: skip
ANSWERS = [("accepted", "Accepted"), ("back", "Sent back")]


class PackQuerySet(models.QuerySet["SitePack"]):
    def of_what_goes(self) -> PackQuerySet:
        """Made since another cart was chosen, or the work changed, for the last time."""
        since = models.Q(line__changed_at=None) | models.Q(made_at__gte=models.F("line__changed_at"))
        return self.filter(since)

    def for_list(self) -> PackQuerySet:
        return self.select_related(
            "line__cart", "line__agreement__customer", "made_by", "file"
        ).prefetch_related("sendings__by", "answers__by")


class SitePack(SealedRow):
    """Papers as they stood when the pack was made, written once. What is put right goes into the next pack."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="packs")
    number = models.CharField(max_length=16, unique=True)
    # The day of use that ages and dates were judged for.
    used_on = models.DateField()
    # As hire.pack_content writes it.
    body = models.JSONField(encoder=DjangoJSONEncoder)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[PackQuerySet] = PackQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]

    def __str__(self) -> str:
        return self.number


class PackFile(SealedRow):
    """The pack as a PDF: rendered once, kept by its own hash."""

    pack = models.OneToOneField(SitePack, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    stored_name = models.CharField(max_length=120)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"file of {self.pack_id}"


class PackSending(SealedRow):
    pack = models.ForeignKey(SitePack, on_delete=models.PROTECT, related_name="sendings")
    sent_at = models.DateTimeField()
    to_words = models.CharField(max_length=160)
    how = models.CharField(max_length=6, choices=HOW_SENT)
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-sent_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("sent_at")),
                name="hire_packsending_has_happened",
                violation_error_message="A pack is written down as sent once it was.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pack_id} to {self.to_words}"


class PackAnswer(SealedRow):
    """What the site said of a pack; a pack sent back and accepted after all has both."""

    pack = models.ForeignKey(SitePack, on_delete=models.PROTECT, related_name="answers")
    answered_at = models.DateTimeField()
    answer = models.CharField(max_length=8, choices=ANSWERS)
    why = models.CharField(max_length=240, blank=True)
    told_by_words = models.CharField(max_length=120)
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-answered_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(answer="accepted") | models.Q(answer="back") & ~models.Q(why=""),
                name="hire_packanswer_sent_back_says_why",
                violation_error_message="A pack that was sent back says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pack_id} {self.answer}"
