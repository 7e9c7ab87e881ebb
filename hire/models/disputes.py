"""What is argued about: a disputed docket line, what both sides say with what it rests on, and how it was decided."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.photos import Photo
from hire.models.agreements import Line
from hire.models.money import Docket
from people.rows import SealedRow

SIDES = [("theirs", "The customer says"), ("ours", "We say")]
WAYS = [
    ("phone", "By phone"), ("email", "By email"), ("letter", "By letter"), ("spoken", "In person"), ("record", "A record"),
]  # fmt: skip
OUTCOMES = [("stands", "It stands"), ("part", "Given up in part"), ("given_up", "Given up")]


class DisputeQuerySet(models.QuerySet["Dispute"]):
    def open(self) -> DisputeQuerySet:
        return self.filter(outcome=None)

    def for_list(self) -> DisputeQuerySet:
        return self.select_related(
            "docket__line__agreement__customer", "docket__line__cart", "made_by", "outcome__decided_by"
        ).prefetch_related("said__made_by")


class Dispute(SealedRow):
    """One line of one docket. The docket stays as it was made; what is given up is credited by the next one."""

    docket = models.ForeignKey(Docket, on_delete=models.PROTECT, related_name="disputes")
    # The line as the docket has it, counted from 1.
    line_no = models.PositiveSmallIntegerField()
    line_key = models.CharField(max_length=80)
    line_what = models.CharField(max_length=160)
    line_amount = models.DecimalField(max_digits=12, decimal_places=2)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[DisputeQuerySet] = DisputeQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["made_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["-made_at"], name="hire_dispute_newest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(line_no__gt=0, line_amount__gt=0),
                name="hire_dispute_of_a_charge",
                violation_error_message="A charge is disputed, not a credit.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.docket.number}, line {self.line_no}"

    @property
    def last_said(self) -> DisputeWord:
        """Of a row whose words are loaded."""
        return list(self.said.all())[-1]

    @property
    def is_open(self) -> bool:
        return not hasattr(self, "outcome")


class DisputeWord(SealedRow):
    """What one side says, as it was told, and what it rests on."""

    dispute = models.ForeignKey(Dispute, on_delete=models.PROTECT, related_name="said")
    side = models.CharField(max_length=6, choices=SIDES)
    words = models.TextField()
    by_words = models.CharField("Who says it", max_length=120)
    how = models.CharField(max_length=6, choices=WAYS)
    told_at = models.DateTimeField()
    photo = models.ForeignKey(Photo, null=True, on_delete=models.PROTECT, related_name="+")
    # A record of the yard by its kind and id, with the words it is known by; blank: none.
    record_kind = models.CharField(max_length=20, blank=True)
    record_id = models.UUIDField(null=True)
    record_words = models.CharField(max_length=160, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(record_kind="", record_id=None)
                | (~models.Q(record_kind="") & models.Q(record_id__isnull=False)),
                name="hire_disputeword_record_whole",
                violation_error_message="A record is named by its kind and its id.",
            ),
            models.CheckConstraint(
                condition=models.Q(told_at__lte=models.F("made_at")),
                name="hire_disputeword_told_before_written",
                violation_error_message="What was said is written down once it was said.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.side} of {self.dispute_id}"


class DisputeOutcome(SealedRow):
    dispute = models.OneToOneField(Dispute, on_delete=models.PROTECT, related_name="outcome")
    outcome = models.CharField(max_length=8, choices=OUTCOMES)
    # Before tax; what the next docket of the hire credits.
    given_up = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    words = models.CharField("Why", max_length=400)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(outcome="stands", given_up=0)
                | models.Q(outcome__in=["part", "given_up"], given_up__gt=0),
                name="hire_disputeoutcome_amount",
                violation_error_message="What stands gives nothing up; else it says how much.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.outcome} of {self.dispute_id}"


class GivenUpDay(SealedRow):
    """A day of the hire that an outcome gives up: it is not taken off by a stand-down besides."""

    outcome = models.ForeignKey(DisputeOutcome, on_delete=models.PROTECT, related_name="days")
    # Of the docket, with the key of its line, so that the database itself has a day of one charge once.
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="given_up_days")
    line_key = models.CharField(max_length=80)
    on = models.DateField()

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "line_key", "on"],
                name="hire_givenupday_once",
                violation_error_message="This day of the charge is given up already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}"
