"""Customers, hire agreements and their carts, and what really happened at the gate."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from hire.querysets import LineQuerySet
from people.rows import Row, SealedRow

LEAVES_BY = [("road", "Driven on the road"), ("float", "Carried on a float"), ("site", "From site to site")]
WORKS_ON = [("road", "Road and site"), ("site", "Site only")]
PRE_START_BOOKS = [
    ("ours", "Ours, on our link"),
    ("theirs", "Their own book; a photo of the page each week"),
    ("system", "Their own system; a weekly copy"),
]
SHIFTS_A_DAY = [(1, "Day"), (2, "Day and night")]


class Customer(Row):
    name = models.CharField(max_length=80)
    contact_name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30)
    email = models.EmailField(blank=True)
    address = models.CharField(max_length=160, blank=True)
    # True: no new hire until the accounts are settled.
    is_stopped = models.BooleanField("No new hires", default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                models.functions.Lower("name"),
                name="hire_customer_name_once",
                violation_error_message="A customer with this name is already in the book.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Agreement(Row):
    number = models.CharField(max_length=16, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="agreements")
    order_number = models.CharField(max_length=40, blank=True)
    place_of_work = models.CharField(max_length=120)
    leaves_by = models.CharField(max_length=5, choices=LEAVES_BY, default="road")
    works_on = models.CharField(max_length=4, choices=WORKS_ON, default="road")
    pre_start_book = models.CharField(
        "Whose pre-start", max_length=6, choices=PRE_START_BOOKS, default="ours"
    )
    shifts_a_day = models.PositiveSmallIntegerField("Shifts a day", choices=SHIFTS_A_DAY, default=1)
    time_zone = models.CharField(max_length=40)
    rule_set = models.CharField(max_length=2)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(shifts_a_day__in=[number for number, _ in SHIFTS_A_DAY]),
                name="hire_agreement_shifts_known",
                violation_error_message="A cart works by day, or day and night.",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Line(Row):
    """One cart on an agreement. `promised` is half-open and may not overlap another promise of the same cart;
    what really happened (handed_over_at, back_at) is kept apart and is always recordable."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="lines")
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="lines")
    promised = DateTimeRangeField()
    # Null: stands.
    cancelled_at = models.DateTimeField(null=True)
    cancelled_why = models.CharField(max_length=240, blank=True)
    # Null: has not left.
    handed_over_at = models.DateTimeField(null=True)
    # Null: not back.
    back_at = models.DateTimeField(null=True)

    objects: ClassVar[LineQuerySet] = LineQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["promised"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["cart"],
                condition=models.Q(handed_over_at__isnull=False, back_at=None),
                name="hire_line_out_now",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="hire_line_one_promise_a_cart",
                expressions=[("cart", RangeOperators.EQUAL), ("promised", RangeOperators.OVERLAPS)],
                condition=models.Q(cancelled_at=None),
                violation_error_message="This cart is promised to another hire in that time. Choose another cart or period.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    promised__isempty=False, promised__lower_inf=False, promised__upper_inf=False
                ),
                name="hire_line_promise_in_order",
                violation_error_message="A hire ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_at=None) | models.Q(back_at__gte=models.F("handed_over_at")),
                name="hire_line_back_after_leaving",
                violation_error_message="A cart comes back after it was handed over.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_at=None) | models.Q(handed_over_at__isnull=False),
                name="hire_line_back_was_out",
                violation_error_message="A cart that never left cannot come back.",
            ),
            models.CheckConstraint(
                condition=models.Q(cancelled_at=None) | models.Q(handed_over_at=None),
                name="hire_line_cancelled_never_left",
                violation_error_message="A hire that has left the gate is ended by its return, not cancelled.",
            ),
            models.UniqueConstraint(
                fields=["cart"],
                condition=models.Q(handed_over_at__isnull=False, back_at=None),
                name="hire_line_one_out_a_cart",
                violation_error_message="This cart is still out on another hire.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.agreement.number} {self.cart.fleet_number}"

    @property
    def is_out(self) -> bool:
        return self.handed_over_at is not None and self.back_at is None


class StandDown(Row):
    """A day on which the cart was not worked: no pre-start is owed for it."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="stand_downs")
    on = models.DateField()
    why = models.CharField(max_length=120)
    told_at = models.DateTimeField()
    told_by_words = models.CharField(max_length=120)

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "on"],
                name="hire_standdown_once_a_day",
                violation_error_message="This day is already stood down.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}"


class Handover(SealedRow):
    """The moment at the gate, written once: who took it, or that nobody was there, and what the yard saw."""

    line = models.OneToOneField(Line, on_delete=models.PROTECT, related_name="handover")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # The sealed paper it names.
    certificate_number = models.CharField(max_length=24)
    mode = models.CharField(
        max_length=6, choices=[("signed", "Signed by the customer"), ("left", "Left, nobody present")]
    )
    place_words = models.CharField(max_length=120)
    taken_by_name = models.CharField(max_length=80, blank=True)
    signature_kind = models.CharField(max_length=5, blank=True)
    signature_strokes = models.TextField(blank=True)
    # One thing handed over a line: standpipe with its serial, hydrant key, hose, handbook.
    items_words = models.TextField(blank=True)
    keys_words = models.CharField(max_length=80)
    condition_words = models.CharField(max_length=240)
    fuel_eighths = models.PositiveSmallIntegerField()
    limits_accepted = models.BooleanField(default=False)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(mode="left", taken_by_name="")
                | (models.Q(mode="signed") & ~models.Q(taken_by_name="")),
                name="hire_handover_signed_or_left",
                violation_error_message="A handover is signed by a named person, or the cart was left with nobody present.",
            ),
            models.CheckConstraint(
                condition=models.Q(fuel_eighths__lte=8),
                name="hire_handover_fuel_in_eighths",
                violation_error_message="Fuel is 0 to 8 eighths.",
            ),
        ]

    def __str__(self) -> str:
        return f"handover of {self.line_id}"


class HandoverPhoto(SealedRow):
    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    caption = models.CharField(max_length=80, blank=True)

    def __str__(self) -> str:
        return f"photo of {self.handover_id}"


class CustomerLink(Row):
    """A link that opens one hire without an account. Only the token's hash is kept: a stolen table opens nothing."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    for_words = models.CharField(max_length=80)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    # Null: good until it expires.
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_customerlink_expires_later",
                violation_error_message="A link expires after it is made.",
            ),
        ]

    def __str__(self) -> str:
        return f"link for {self.for_words}"

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None


class SiteCode(Row):
    """The code that opens the pre-start of one hire at its cart's plate, for whoever is at work with it. Only its password
    hash is kept; a new code takes the old one's place."""

    line = models.OneToOneField(Line, on_delete=models.CASCADE, related_name="site_code")
    code_hash = models.CharField(max_length=128)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"site code of {self.line_id}"
