"""Move permits: one trip of a held cart, empty, by a named driver, at a greatest speed, until a time."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import WHERE_KINDS, Cart
from fleet.models.photos import Photo
from fleet.moving import FLOAT, ROAD, WAYS
from people.rows import Row

# No yard's setting goes above it: a held cart is not in a hurry.
FASTEST_KM_H = 100


class MovePermit(Row):
    """It never makes a cart ready: what held the cart holds it still. Open until the cart has come, or it is withdrawn."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="move_permits")
    number = models.CharField(max_length=14, unique=True)
    way = models.CharField(max_length=6, choices=WAYS)
    from_words = models.CharField(max_length=120)
    to_kind = models.CharField(max_length=8, choices=WHERE_KINDS)
    to_words = models.CharField(max_length=80)
    # Null: somebody from outside, named in driver_words with the firm.
    driver = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    driver_words = models.CharField(max_length=120, blank=True)
    licence_words = models.CharField(max_length=60, blank=True)
    # Null: on a float, which goes as it may.
    speed_km_h = models.PositiveSmallIntegerField(null=True, blank=True)
    is_empty = models.BooleanField()
    empty_words = models.CharField(max_length=80)
    # Who tried brakes, steering and wheels for this trip, and what they found. Blank on a float.
    controls_words = models.CharField(max_length=200, blank=True)
    conditions = models.CharField(max_length=240, blank=True)
    reason = models.CharField(max_length=240)
    # What held the cart as it was given, and what is printed that must be done: sentences.
    held_by = models.JSONField()
    musts = models.JSONField()
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField()
    given_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    # Null: it has not left. Set once: one trip.
    left_at = models.DateTimeField(null=True)
    left_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    # Null: it has not come to a place yet.
    came_at = models.DateTimeField(null=True)
    came_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    came_to_words = models.CharField(max_length=120, blank=True)
    # Null: it stands, or was used.
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-given_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["expires_at"],
                condition=models.Q(left_at__isnull=False, came_at=None),
                name="fleet_movepermit_under_way",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart"],
                condition=models.Q(came_at=None, withdrawn_at=None),
                name="fleet_movepermit_one_open",
                violation_error_message="A move permit of this cart is open already. Use it or withdraw it first.",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("given_at")),
                name="fleet_movepermit_ends_after_it_is_given",
                violation_error_message="A move permit ends after it is given.",
            ),
            models.CheckConstraint(
                condition=models.Q(is_empty=True) & ~models.Q(empty_words=""),
                name="fleet_movepermit_tank_is_empty",
                violation_error_message="A held cart moves with an empty tank, and somebody has looked.",
            ),
            models.CheckConstraint(
                condition=models.Q(driver__isnull=False, driver_words="")
                | models.Q(driver=None) & ~models.Q(driver_words=""),
                name="fleet_movepermit_names_its_driver",
                violation_error_message="Name the driver: one of the yard’s people, or somebody else with the firm.",
            ),
            models.CheckConstraint(
                condition=models.Q(way=FLOAT, speed_km_h=None)
                | ~models.Q(way=FLOAT)
                & models.Q(speed_km_h__isnull=False, speed_km_h__gte=1, speed_km_h__lte=FASTEST_KM_H)
                & ~models.Q(controls_words=""),
                name="fleet_movepermit_driven_says_how_fast",
                violation_error_message="A cart that is driven says how fast at most, and who tried brakes, steering and wheels.",
            ),
            models.CheckConstraint(
                condition=~models.Q(way=ROAD) | ~models.Q(licence_words=""),
                name="fleet_movepermit_road_says_the_licence",
                violation_error_message="Say which class of licence the driver holds.",
            ),
            models.CheckConstraint(
                condition=models.Q(left_at=None, left_by=None)
                | models.Q(
                    left_by__isnull=False,
                    left_at__gte=models.F("given_at"),
                    left_at__lt=models.F("expires_at"),
                ),
                name="fleet_movepermit_leaves_before_it_ends",
                violation_error_message="The cart leaves after the permit is given and before it ends.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_at=None, came_by=None, came_to_words="")
                | models.Q(came_by__isnull=False, left_at__isnull=False, came_at__gte=models.F("left_at"))
                & ~models.Q(came_to_words=""),
                name="fleet_movepermit_comes_after_it_left",
                violation_error_message="The cart comes to a place after it has left.",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None, withdrawn_by=None)
                | models.Q(withdrawn_by__isnull=False, left_at=None, withdrawn_at__gte=models.F("given_at"))
                & ~models.Q(withdrawn_words=""),
                name="fleet_movepermit_withdrawn_unused",
                violation_error_message="A permit is withdrawn before the cart leaves on it, by somebody who says why.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def driver_named(self) -> str:
        return self.driver.full_name if self.driver else self.driver_words

    @property
    def is_under_way(self) -> bool:
        return self.left_at is not None and self.came_at is None

    def state(self, *, at: datetime) -> str:
        """Ready (may be used), ended (nobody used it in time), under_way, late (under way past its end), came or withdrawn."""
        if self.withdrawn_at is not None:
            return "withdrawn"
        if self.came_at is not None:
            return "came"
        is_over = at >= self.expires_at
        if self.left_at is not None:
            return "late" if is_over else "under_way"
        return "ended" if is_over else "ready"
