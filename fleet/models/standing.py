"""What stands on a cart by a person's decision: holds, passes by authority, limits it goes with."""

from __future__ import annotations

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


class Pass(Row):
    """Something that stops a cart, passed by authority: printed on the certificate and listed until closed.

    `rule` is the blocker's code and (record_kind, record_id) its record. It ends at a time or at a named event.
    """

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="passes")
    rule = models.CharField(max_length=40)
    record_kind = models.CharField(max_length=20)
    record_id = models.UUIDField()
    found = models.CharField(max_length=240)
    reason = models.CharField(max_length=60)
    words = models.CharField(max_length=240)
    done_instead = models.CharField(max_length=240)
    told_words = models.CharField(max_length=120)
    given_at = models.DateTimeField()
    given_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
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
        ]

    def __str__(self) -> str:
        return f"{self.cart.fleet_number}: {self.found}"


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
