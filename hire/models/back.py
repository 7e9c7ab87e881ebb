"""What came back with a cart: the kit counted, what a person said of what was found again, and decided of each thing found."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.defects import Defect
from hire.charging.back import REASONS
from hire.models.agreements import Line
from hire.models.money import BesideCharge
from inspections.models import Answer
from people.rows import SealedRow

KIT_STATES = [("back", "Back"), ("missing", "Missing"), ("broken", "Broken")]
FOUND_KINDS = [
    ("damage", "Damage"), ("tyre", "Tyre"), ("fuel", "Fuel"), ("cleaning", "Cleaning"), ("kit", "Kit"),
]  # fmt: skip
AGAIN = [("same", "The same as was there before"), ("new", "New damage")]
OUTCOMES = [("charged", "Charged"), ("let_go", "Let go")]


class KitCount(SealedRow):
    """What came back of the things on the handover's list; counted again, the newest counts."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="kit_counts")
    # By the number of the thing on the list, as text: {"state": of KIT_STATES, "words": …}.
    body = models.JSONField()
    counted_at = models.DateTimeField()
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-counted_at"]

    def __str__(self) -> str:
        return f"kit of {self.line_id}"


class AgainSaid(SealedRow):
    """Something found wrong as it came back, where a defect of the same check was open as it left: a named person said, once,
    whether it is that or new damage."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="again_said")
    answer = models.OneToOneField(Answer, on_delete=models.PROTECT, related_name="+")
    # The open defect it joined, and the one that was told of it where it is new.
    joined = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="+")
    told = models.OneToOneField(Defect, null=True, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=4, choices=AGAIN)
    # Why it is the same, or what the new damage is.
    words = models.CharField(max_length=240)
    said_at = models.DateTimeField()
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["said_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(words="")
                & (
                    models.Q(outcome="same", told=None)
                    | models.Q(outcome="new", told__isnull=False) & ~models.Q(told=models.F("joined"))
                ),
                name="hire_againsaid_same_or_new",
                violation_error_message="It is the same as before, or new damage with a defect of its own; in words.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.answer_id}: {self.get_outcome_display()}"


class BackDecision(SealedRow):
    """One thing found when a cart came back, charged or let go by a named person, written once. Decided anew, a later row names
    the one it replaces, so that no thing has two last words."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="back_decisions")
    # "defect-<id>", else "<kind> <line id>": one name for one thing in the whole yard.
    thing = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=FOUND_KINDS)
    what = models.CharField(max_length=160)
    # What showed it, in words, as it stood when it was decided.
    shown = models.CharField(max_length=400)
    outcome = models.CharField(max_length=7, choices=OUTCOMES)
    # Blank when charged.
    reason = models.CharField(max_length=9, choices=list(REASONS.items()), blank=True)
    words = models.CharField(max_length=240, blank=True)
    # Null when let go.
    amount = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    working = models.TextField(blank=True)
    # The depth a charged tyre left with; null for anything else.
    out_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    # Until when damage was the hirer's, of a cart that left its site later; the person who charged it says by what they tell that
    # it came before. Null: nothing of it was asked.
    came_before = models.DateTimeField(null=True)
    came_before_words = models.CharField(max_length=240, blank=True)
    defect = models.ForeignKey(Defect, null=True, on_delete=models.PROTECT, related_name="+")
    beside = models.OneToOneField(BesideCharge, null=True, on_delete=models.PROTECT, related_name="decision")
    # The damage waiver takes it on, and the hirer pays its excess at most. False too of what was decided before this was kept.
    is_waived = models.BooleanField(default=False)
    # What it happened with, decided before: one event, whose excess is paid once. Always the first of them. Null: by itself.
    same_event = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="others_of_event"
    )
    replaces = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["decided_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["thing"],
                condition=models.Q(replaces=None),
                name="hire_backdecision_first_word_once",
                violation_error_message="Somebody decided this a moment ago. Look at it again.",
            ),
            models.CheckConstraint(
                condition=models.Q(outcome="charged", reason="", amount__gt=0, beside__isnull=False)
                | models.Q(outcome="let_go", reason__in=list(REASONS), amount=None, beside=None),
                name="hire_backdecision_charged_or_let_go",
                violation_error_message="What was found is charged with an amount, or let go with a reason.",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="tyre", outcome="charged") | models.Q(out_mm__isnull=False),
                name="hire_backdecision_tyre_was_measured",
                violation_error_message="A tyre is charged by the depth it left with. Without one, nothing is charged.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_before=None, came_before_words="")
                | models.Q(came_before__isnull=False, outcome="charged") & ~models.Q(came_before_words=""),
                name="hire_backdecision_came_before_in_words",
                violation_error_message="That damage came while it was the hirer’s is said in words, of what is charged.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.get_outcome_display()}"

    @property
    def stands_charged(self) -> bool:
        """Whether it is charged, and that was not struck out (its charge loaded)."""
        return self.beside is not None and self.beside.struck_at is None
