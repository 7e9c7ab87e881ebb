"""What was worked out of tyres: rebuilt from readings by servicing.tyre_forecasts whenever it is asked, and never typed in."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from fleet.models.wheels import TyreFitting
from people.rows import Row

BASES = [
    ("readings", "Its own readings"),
    ("readings and fleet", "Its own readings and the fleet's wear"),
    ("fleet", "The fleet's wear"),
    ("too few", "Too few readings"),
]
DUTIES = [("", "Road and site"), ("road", "Road"), ("site", "Site")]


class FleetWear(Row):
    """The yard's own wear for one kind of axle and duty; a forecast with few readings leans on it."""

    steers = models.BooleanField()
    # Blank: all duties taken together.
    duty = models.CharField(max_length=4, choices=DUTIES, blank=True)
    wear_mm_per_1000_km = models.FloatField()
    spread_mm_per_1000_km = models.FloatField()
    tyres_count = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["steers", "duty"],
                name="servicing_fleetwear_once",
                violation_error_message="There is a wear for that axle and duty already.",
            ),
            models.CheckConstraint(
                condition=models.Q(wear_mm_per_1000_km__gt=0, spread_mm_per_1000_km__gt=0),
                name="servicing_fleetwear_above_zero",
                violation_error_message="The fleet's wear and its spread are above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{'steer' if self.steers else 'drive'} {self.duty or 'all'}"


class TyreForecast(Row):
    """One row a tyre now on a cart. km are on its cart's odometer. Figures are floats: estimates, not measurements."""

    fitting = models.OneToOneField(TyreFitting, on_delete=models.CASCADE, related_name="forecast")
    made_at = models.DateTimeField()
    readings_count = models.PositiveIntegerField()
    # Null: never measured in this place.
    last_read_at = models.DateTimeField(null=True)
    last_depth_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    # Null: the cart has no km readings about the time the depths were read.
    last_km = models.FloatField(null=True)
    km_per_day = models.FloatField(null=True)
    basis = models.CharField(max_length=18, choices=BASES)
    rule_set = models.CharField(max_length=2)
    # Null: too few readings.
    wear_mm_per_1000_km = models.FloatField(null=True)
    # The fleet's, where it had a say. Null: none is known, or the tyre's own readings stand alone.
    fleet_wear = models.ForeignKey(FleetWear, on_delete=models.SET_NULL, null=True, related_name="forecasts")
    change_out_mm = models.DecimalField(max_digits=6, decimal_places=4)
    legal_mm = models.DecimalField(max_digits=6, decimal_places=4)
    # Null: too few readings, or it does not wear. A high one null beside a middle: by the spread there is no end.
    km_change_out = models.FloatField(null=True)
    km_change_out_low = models.FloatField(null=True)
    km_change_out_high = models.FloatField(null=True)
    km_legal = models.FloatField(null=True)
    km_legal_low = models.FloatField(null=True)
    km_legal_high = models.FloatField(null=True)
    # Null: as above, or the cart's km per day are not known, or it is more than ten years off.
    on_change_out = models.DateField(null=True)
    on_change_out_low = models.DateField(null=True)
    on_change_out_high = models.DateField(null=True)
    # What is not alike about the tyre beside it on its hub, in sentences; blank: nothing, or it has none.
    pair_words = models.CharField(max_length=320, blank=True)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["on_change_out"], name="servicing_tyreforecast_day"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(km_change_out=None)
                | models.Q(km_change_out_low__lte=models.F("km_change_out")),
                name="servicing_tyreforecast_low_first",
                violation_error_message="The low km of a forecast is at most the middle one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fitting_id}: {self.on_change_out or self.basis}"

    @property
    def are_km_known(self) -> bool:
        return self.last_km is not None
