"""What water a cart's tank has carried, and how it was sanitised. A row is written once: only its test and its striking out
are added to it, each once, and the database keeps that (fleet_water_written_once)."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.water.history import SOURCES
from people.rows import Row

NOT_STRUCK = models.Q(struck_at=None)
STRUCK_BY_SOMEBODY = models.Q(struck_at=None, struck_by=None, struck_words="") | (
    models.Q(struck_at__gte=models.F("recorded_at"), struck_by__isnull=False) & ~models.Q(struck_words="")
)


class WaterCarried(Row):
    """A fill of the tank: what with and where. One written down wrongly is struck out and stays; struck, it counts for nothing."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="water_carried")
    source = models.CharField(max_length=13, choices=list(SOURCES.items()))
    filled_at = models.DateTimeField()
    place_words = models.CharField(max_length=80)
    # Licence or standpipe number.
    permit_words = models.CharField(max_length=60, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    struck_at = models.DateTimeField(null=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-filled_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["cart", "source", "-filled_at"], condition=NOT_STRUCK, name="fleet_water_latest"
            ),
            models.Index(fields=["cart", "-filled_at"], name="fleet_water_of_cart"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(source__in=list(SOURCES)),
                name="fleet_water_source_known",
                violation_error_message="Choose what the tank carried.",
            ),
            models.UniqueConstraint(
                fields=["cart", "filled_at"],
                condition=NOT_STRUCK,
                name="fleet_water_once_a_time",
                violation_error_message="Another fill of this cart is on record for that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("filled_at")),
                name="fleet_water_has_happened",
                violation_error_message="A fill is recorded once it has happened.",
            ),
            models.CheckConstraint(
                condition=STRUCK_BY_SOMEBODY,
                name="fleet_water_struck_by_somebody",
                violation_error_message="A fill is struck out by a named person who says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_source_display()} from {self.place_words}"


class Sanitising(Row):
    """A tank cleaned and disinfected, and the test of its water once it is back."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="sanitisings")
    done_at = models.DateTimeField()
    how = models.CharField(max_length=160)
    product = models.CharField(max_length=80)
    # Null: nothing was dosed, by steam.
    dose_mg_l = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    minutes = models.PositiveIntegerField()
    rinse = models.CharField(max_length=120)
    # Null: not measured.
    residual_mg_l = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    by_words = models.CharField(max_length=80)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # When the sample was taken. Null: no test is on record.
    tested_at = models.DateTimeField(null=True)
    test_passed = models.BooleanField(null=True)
    test_words = models.CharField(max_length=160, blank=True)
    test_recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_at = models.DateTimeField(null=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-done_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "-done_at"], name="fleet_sanitising_of_cart"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "done_at"],
                condition=NOT_STRUCK,
                name="fleet_sanitising_once_a_time",
                violation_error_message="A sanitising of this cart is on record for that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("done_at")),
                name="fleet_sanitising_has_happened",
                violation_error_message="A sanitising is recorded once it is done.",
            ),
            models.CheckConstraint(
                condition=models.Q(minutes__gt=0)
                & (models.Q(dose_mg_l=None) | models.Q(dose_mg_l__gt=Decimal(0)))
                & (models.Q(residual_mg_l=None) | models.Q(residual_mg_l__gte=Decimal(0))),
                name="fleet_sanitising_figures_in_order",
                violation_error_message="The product stood for some minutes; a dose is above zero and a residual never below.",
            ),
            models.CheckConstraint(
                condition=models.Q(tested_at=None, test_passed=None, test_recorded_by=None, test_words="")
                | (
                    models.Q(
                        tested_at__gte=models.F("done_at"),
                        test_passed__isnull=False,
                        test_recorded_by__isnull=False,
                    )
                    & ~models.Q(test_words="")
                ),
                name="fleet_sanitising_tested_after_it",
                violation_error_message="A test is of water sampled after the sanitising, and says what was found.",
            ),
            models.CheckConstraint(
                condition=STRUCK_BY_SOMEBODY,
                name="fleet_sanitising_struck_by_somebody",
                violation_error_message="A sanitising is struck out by a named person who says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"sanitised by {self.by_words}"
