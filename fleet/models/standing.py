"""What stands on a cart by a person's decision: holds, passes by authority, limits it goes with."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from people.rows import Row


class Hold(Row):
    """A cart tagged out by hand. Only lifting it frees the cart; an incident hold is lifted by the fleet manager alone."""

    KINDS: ClassVar = [("manual", "Tagged out"), ("incident", "Incident: evidence kept")]

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=8, choices=KINDS, default="manual")
    reason = models.CharField(max_length=240)
    tag_number = models.CharField(max_length=20, blank=True)
    is_tag_hung = models.BooleanField(default=False)
    keys_words = models.CharField(max_length=80)
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    placed_at = models.DateTimeField()
    placed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: still held.
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    lifted_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-placed_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart"], condition=models.Q(lifted_at=None), name="fleet_hold_open"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(lifted_at=None, lifted_by=None)
                | models.Q(lifted_at__gte=models.F("placed_at"), lifted_by__isnull=False),
                name="fleet_hold_lifted_by_somebody",
                violation_error_message="A hold is lifted by a named person, after it was placed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number}: {self.reason}"


def unconfirmed_counts(*, at: datetime) -> models.Q:
    """Passes that count as far as their giver's word goes: signed by them, confirmed by `at`, or given by phone and their hours
    not past. The end of the hours is outside."""
    return models.Q(confirm_by_at=None) | models.Q(confirm_by_at__gt=at) | models.Q(confirmed_at__lte=at)


class Pass(Row):
    """Something that stops a cart, passed by authority: printed on the certificate and listed until closed.

    `rule` is the blocker's code and (record_kind, record_id) its record. It ends at a time or at a named event. One given by
    phone is entered by another than who answers for it (`given_by`), and counts on only once they have confirmed it.
    """

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="passes")
    rule = models.CharField(max_length=40)
    record_kind = models.CharField(max_length=20)
    record_id = models.UUIDField()
    found = models.CharField(max_length=240)
    reason = models.CharField(max_length=60)
    words = models.CharField(max_length=240)
    # On what condition it goes. Empty: given before it was asked.
    condition_words = models.CharField(max_length=240, default="")
    done_instead = models.CharField(max_length=240)
    told_words = models.CharField(max_length=120)
    given_at = models.DateTimeField()
    given_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Who stands beside the giver, where the rule asks: one of the yard, or an outsider by name and firm.
    second_person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    second_name = models.CharField(max_length=80, blank=True)
    second_firm = models.CharField(max_length=80, blank=True)
    # Given by phone: who entered it at `given_at`, and when it was spoken. Null: the giver signed it themselves.
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    spoken_at = models.DateTimeField(null=True)
    # It counts before this, and from when its giver confirms it by their own sign-in.
    confirm_by_at = models.DateTimeField(null=True)
    confirmed_at = models.DateTimeField(null=True)
    # The one named says they never said it. Closed with that, if it was not before.
    disowned_at = models.DateTimeField(null=True)
    # How often the same thing has been passed before: twice goes up one rank, a third is refused.
    turn = models.PositiveSmallIntegerField(default=1)
    ends_at = models.DateTimeField()
    ends_event = models.CharField(max_length=80, blank=True)
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    # Null: open.
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["-given_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("given_at")),
                name="fleet_pass_ends_after_it_begins",
                violation_error_message="A pass ends after it is given.",
            ),
            models.CheckConstraint(
                condition=models.Q(turn__gte=1, turn__lte=2),
                name="fleet_pass_never_a_third_time",
                violation_error_message="This has been passed twice already. It is repaired, or the cart stays.",
            ),
            models.UniqueConstraint(
                fields=["rule", "record_kind", "record_id"],
                condition=models.Q(closed_at=None),
                name="fleet_pass_one_open",
                violation_error_message="This is already passed.",
            ),
            models.CheckConstraint(
                condition=models.Q(second_person=None) | ~models.Q(second_person=models.F("given_by")),
                name="fleet_pass_second_is_another",
                violation_error_message="The second name is another person than the one who passes it.",
            ),
            models.CheckConstraint(
                condition=models.Q(second_person=None)
                | models.Q(entered_by=None)
                | ~models.Q(second_person=models.F("entered_by")),
                name="fleet_pass_second_did_not_enter_it",
                violation_error_message="The second name is another person than the one who enters it.",
            ),
            models.CheckConstraint(
                condition=models.Q(second_name="", second_firm="")
                | models.Q(second_person=None) & ~models.Q(second_name="") & ~models.Q(second_firm=""),
                name="fleet_pass_second_is_one_of_ours_or_named",
                violation_error_message="The second name is one of the yard, or an outsider by name and firm.",
            ),
            models.CheckConstraint(
                condition=models.Q(entered_by=None, spoken_at=None, confirm_by_at=None)
                | models.Q(
                    entered_by__isnull=False,
                    spoken_at__lte=models.F("given_at"),
                    confirm_by_at__gt=models.F("given_at"),
                ),
                name="fleet_pass_spoken_before_it_is_entered",
                violation_error_message="A pass given by phone says who entered it, and was spoken before that.",
            ),
            models.CheckConstraint(
                condition=models.Q(entered_by=None) | ~models.Q(entered_by=models.F("given_by")),
                name="fleet_pass_entered_by_another",
                violation_error_message="Whoever passes it signs it themselves; only another enters it as spoken.",
            ),
            models.CheckConstraint(
                condition=models.Q(confirmed_at=None, disowned_at=None)
                | models.Q(spoken_at__isnull=False, disowned_at=None, confirmed_at__gte=models.F("given_at"))
                | models.Q(
                    spoken_at__isnull=False,
                    confirmed_at=None,
                    disowned_at__gte=models.F("given_at"),
                    closed_at__isnull=False,
                ),
                name="fleet_pass_confirmed_or_disowned",
                violation_error_message="A pass given by phone is confirmed or disowned, once; one disowned is closed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number}: {self.found}"

    @property
    def is_unanswered(self) -> bool:
        """Given by phone, and the manager named has neither confirmed nor disowned it."""
        return self.spoken_at is not None and self.confirmed_at is None and self.disowned_at is None

    @property
    def is_confirmed_late(self) -> bool:
        """Confirmed when its hours were past."""
        return bool(self.confirmed_at and self.confirm_by_at and self.confirmed_at >= self.confirm_by_at)

    @property
    def second_words(self) -> str:
        """Who stands beside the giver; "" for nobody."""
        if self.second_person is not None:
            return self.second_person.full_name
        return f"{self.second_name}, {self.second_firm}" if self.second_name else ""


class Limit(Row):
    """Gear the hire does not need, isolated and tagged: the cart goes, and the limit is printed and accepted."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="limits")
    gear = models.CharField(max_length=24, choices=list(GEAR.items()))
    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="limits")
    words = models.CharField(max_length=160)
    how_isolated = models.CharField(max_length=160)
    tag_number = models.CharField(max_length=20)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: in force.
    lifted_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["set_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["defect"],
                condition=models.Q(lifted_at=None),
                name="fleet_limit_one_a_defect",
                violation_error_message="A limit already covers this defect.",
            ),
            models.CheckConstraint(
                condition=models.Q(lifted_at=None) | models.Q(lifted_at__gte=models.F("set_at")),
                name="fleet_limit_period_in_order",
                violation_error_message="A limit is lifted after it was set.",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class PutAway(Row):
    """Somebody put a cart away locked and hung up its keys: so it stands until it moves, or its keys change hands."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="put_aways")
    keys_words = models.CharField(max_length=80)
    said_at = models.DateTimeField()
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-said_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "-said_at"], name="fleet_putaway_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(keys_words=""),
                name="fleet_putaway_keys_somewhere",
                violation_error_message="Say where the keys are.",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None) | models.Q(ended_at__gte=models.F("said_at")),
                name="fleet_putaway_period_in_order",
                violation_error_message="What was put away is moved after that.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number}: {self.keys_words}"
