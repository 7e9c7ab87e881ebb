"""Check sheets by issue, and signed walk-rounds with their answers. Everything signed is written once."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from inspections.clocks import put_right
from inspections.querysets import WalkRoundQuerySet
from people.rows import Row, SealedRow

PURPOSES = [
    ("daily", "Daily pre-start"),
    ("weekly", "Weekly round"),
    ("monthly", "Monthly round"),
    ("pre_hire", "Pre-hire check"),
    ("gate_out", "Gate-out check"),
    ("as_returned", "As returned"),
    ("after_wash", "After wash"),
]
ANSWERS = [
    ("good", "Good"),
    ("wrong", "Something's wrong"),
    ("not_on_cart", "Not on this cart"),
    ("could_not_check", "Couldn't check"),
]
OUTCOMES = [("ready", "Ready"), ("conditions", "Goes with conditions"), ("held", "Held")]


class Edition(SealedRow):
    """One published issue of the yard's check sheets: the whole content, canonical, with its hash."""

    number = models.PositiveIntegerField(unique=True)
    content = models.TextField()
    sha256 = models.CharField(max_length=64, unique=True)
    published_at = models.DateTimeField()
    # Null: the library as it came with this version of Slake.
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    why = models.CharField(max_length=240)

    class Meta:
        ordering: ClassVar[list[str]] = ["-number"]

    def __str__(self) -> str:
        return f"issue {self.number}"


class YardCheck(Row):
    """The yard's own change to the library, waiting for the next issue: a check added, reworded, or retired."""

    key = models.CharField(max_length=80, unique=True)
    # Null: a library check is retired and nothing stands in its place.
    body = models.JSONField(null=True)
    is_retired = models.BooleanField(default=False)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["key"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(is_retired=True) | models.Q(body__isnull=False),
                name="inspections_yardcheck_says_something",
                violation_error_message="A yard check has a body, or retires one of the library's.",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class WalkRound(SealedRow):
    """A signed walk-round, as it was signed. `manifest` is the canonical text the signature is bound to."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="walk_rounds")
    purpose = models.CharField(max_length=12, choices=PURPOSES)
    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="+")
    rule_set = models.CharField(max_length=2)
    manifest = models.TextField()
    manifest_sha256 = models.CharField(max_length=64)
    started_at = models.DateTimeField()
    # By the tablet's clock, and by ours when it arrived; offset as the tablet last knew it.
    device_signed_at = models.DateTimeField()
    signed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    clock_offset_ms = models.BigIntegerField(default=0)
    # Null: a customer's person walked it.
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    author_words = models.CharField(max_length=120)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    signature_kind = models.CharField(max_length=5, choices=[("drawn", "Drawn"), ("typed", "Typed")])
    signature_name = models.CharField(max_length=120)
    outcome = models.CharField(max_length=10, choices=OUTCOMES)
    headline = models.CharField(max_length=240)
    reasons = models.JSONField()
    # Required checks answered "couldn't check": such a walk-round never makes a cart fit, whatever is repaired.
    not_done = models.PositiveSmallIntegerField(default=0)

    objects: ClassVar[WalkRoundQuerySet] = WalkRoundQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-signed_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "purpose", "-signed_at"], name="inspections_walkround_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(purpose__in=[key for key, _ in PURPOSES]),
                name="inspections_walkround_purpose_known",
                violation_error_message="A walk-round has one of the known purposes.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.cart.fleet_number}"

    @property
    def author_name(self) -> str:
        """Who signed, by name alone, as it was known when the record came."""
        return self.author_words.rsplit(", ", 1)[0]

    @property
    def author_role(self) -> str:
        """What they are here: "Yard hand"."""
        role = self.author_words.rsplit(", ", 1)[-1]
        return role[:1].upper() + role[1:]

    @property
    def is_name_confirmed(self) -> bool:
        """Whether whoever signed has been here under their own sign-in: with the record, or since."""
        return self.author_id == self.sent_by_id or hasattr(self, "name_confirmation")

    @property
    def clock_offset(self) -> timedelta:
        return timedelta(milliseconds=self.clock_offset_ms)

    @property
    def begun_at(self) -> datetime:
        """When it was begun, by the yard's clock; `started_at` is the tablet's own."""
        return put_right(self.started_at, offset=self.clock_offset, not_after=self.signed_at)


class NameConfirmation(SealedRow):
    """Whoever a walk-round says signed it says so too. One row when it was sent in under another's sign-in."""

    walk_round = models.OneToOneField(WalkRound, on_delete=models.PROTECT, related_name="name_confirmation")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    how = models.CharField(max_length=7, choices=[("session", "by signing in"), ("pin", "by PIN")])

    class Meta:
        ordering: ClassVar[list[str]] = ["at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(how__in=["session", "pin"]),
                name="inspections_nameconfirmation_how_known",
                violation_error_message="A name is confirmed by signing in or by PIN.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.by.full_name} {self.get_how_display()}"


class Answer(SealedRow):
    """One answer, with the wording it was asked in. Derived from the manifest in the same transaction."""

    walk_round = models.ForeignKey(WalkRound, on_delete=models.PROTECT, related_name="answers")
    number = models.PositiveSmallIntegerField()
    check_key = models.CharField(max_length=80)
    title = models.CharField(max_length=80)
    station = models.CharField(max_length=24)
    place = models.CharField(max_length=40, blank=True)
    answer = models.CharField(max_length=16, choices=ANSWERS)
    # Exactly as entered; numbers are text so that the record and its hash agree to the digit.
    value = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    limit = models.JSONField(null=True)
    grade = models.CharField(max_length=10, blank=True)
    words = models.TextField(blank=True)
    why = models.CharField(max_length=12, blank=True)
    answered_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["walk_round", "number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["walk_round", "number"],
                name="inspections_answer_number_once",
                violation_error_message="A walk-round has one answer at each number.",
            ),
            models.UniqueConstraint(
                fields=["walk_round", "check_key", "place"],
                name="inspections_answer_once_a_place",
                violation_error_message="A check is answered once at each place.",
            ),
            models.CheckConstraint(
                condition=models.Q(answer__in=[key for key, _ in ANSWERS]),
                name="inspections_answer_known",
                violation_error_message="An answer is one of the four.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.get_answer_display()}"


class AnswerPhoto(SealedRow):
    answer = models.ForeignKey(Answer, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="answers")
    number = models.PositiveSmallIntegerField()

    class Meta:
        ordering: ClassVar[list[str]] = ["answer", "number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["answer", "number"],
                name="inspections_answerphoto_number_once",
                violation_error_message="An answer has one photo at each number.",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.number} of {self.answer_id}"


class RestedQuestion(SealedRow):
    """A question about a walk-round put to rest by a manager, in words. What was signed stays as it is."""

    walk_round = models.ForeignKey(WalkRound, on_delete=models.PROTECT, related_name="rested_questions")
    # The sign's code (inspections.truthfulness), and the question as it was asked then.
    code = models.CharField(max_length=12)
    question = models.TextField()
    words = models.CharField(max_length=400)
    rested_at = models.DateTimeField()
    rested_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["rested_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["walk_round", "code"],
                name="inspections_restedquestion_once",
                violation_error_message="This question was put to rest already.",
            ),
            models.CheckConstraint(
                condition=models.Q(words__regex=r"\S"),
                name="inspections_restedquestion_in_words",
                violation_error_message="Say what you found out.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} of {self.walk_round_id}"
