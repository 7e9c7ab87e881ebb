"""What a cart weighs and may weigh: its tank as measured, its plates, and weighbridge tickets.

Every row is sealed: what was measured anew is a new row, and a wrong ticket is struck out by a row of its own.
"""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.water.road_facts import FUEL_EIGHTHS
from people.rows import SealedRow

TANK_KINDS = [
    ("ellipse", "Ellipse"),
    ("cylinder", "Cylinder"),
    ("box", "Box"),
    ("table", "By its own table of dips"),
]
TWO_GROUPS = "two_groups"
STANDS_ON = [
    (TWO_GROUPS, "Two axle groups, nothing behind it"),
    ("trailer", "A truck with a dog or pig trailer"),
    ("semi", "A prime mover with a semi-trailer"),
    ("more", "More than two axle groups"),
]
RULE_SETS = [("au", "Australia"), ("us", "United States"), ("uk", "United Kingdom")]


def _staff() -> models.ForeignKey:  # type: ignore[type-arg]
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")


class TankMeasured(SealedRow):
    """A tank as somebody measured it inside, with where one reads it. The newest by its day counts."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="tanks_measured")
    measured_on = models.DateField()
    shape = models.CharField(max_length=8, choices=TANK_KINDS)
    # Null: the tank goes by its table.
    length_m = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    width_m = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    height_m = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    # Pairs of mm and litres from empty to full. Null: the tank goes by its measures.
    dip_rows = models.JSONField(null=True, blank=True)
    dead_l = models.PositiveIntegerField()
    lid_above_mm = models.PositiveIntegerField()
    # How far the sight tube's zero stands above the tank's lowest point. Null: no sight tube.
    sight_zero_mm = models.PositiveIntegerField(null=True, blank=True)
    # The tank's middle behind the first axle, by tape.
    middle_m = models.DecimalField(max_digits=5, decimal_places=2)
    # Null: nobody has timed a fill.
    fill_l_min = models.PositiveIntegerField(null=True, blank=True)
    by_words = models.CharField(max_length=80)
    recorded_at = models.DateTimeField()
    recorded_by = _staff()

    class Meta:
        ordering: ClassVar[list[str]] = ["-measured_on", "-recorded_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "-measured_on", "-recorded_at"], name="fleet_tankmeasured_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(
                    shape="table", length_m=None, width_m=None, height_m=None, dip_rows__isnull=False
                )
                | models.Q(
                    shape__in=["ellipse", "cylinder", "box"],
                    # "Above zero" alone lets an unknown measure through.
                    length_m__isnull=False,
                    width_m__isnull=False,
                    height_m__isnull=False,
                    length_m__gt=0,
                    width_m__gt=0,
                    height_m__gt=0,
                    dip_rows=None,
                ),
                name="fleet_tankmeasured_one_way",
                violation_error_message="A tank goes by its three inside measures, each above zero, or by its own table.",
            ),
            models.CheckConstraint(
                condition=models.Q(fill_l_min=None) | models.Q(fill_l_min__gt=0),
                name="fleet_tankmeasured_fill_rate_positive",
                violation_error_message="A fill rate is above zero; leave it empty where nobody has timed a fill.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_shape_display().lower()}, measured by {self.by_words}"


class WeightSheet(SealedRow):
    """What the plates of a cart say of its weights, judged by one rule set. The newest by its day counts; its two groups
    are GroupWeights."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="weight_sheets")
    from_on = models.DateField()
    rule_set = models.CharField(max_length=2, choices=RULE_SETS)
    stands_on = models.CharField(max_length=10, choices=STANDS_ON, default=TWO_GROUPS)
    # A key of the rule set's gross limits. Blank: it follows from the axles, or is not known.
    gross_key = models.CharField(max_length=24, blank=True)
    # Between the outermost axles. Null: not measured.
    outer_length_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    fuel_tank_l = models.PositiveIntegerField()
    fuel_place_m = models.DecimalField(max_digits=5, decimal_places=2)
    cab_place_m = models.DecimalField(max_digits=5, decimal_places=2)
    # As it travels on a road, everything stowed. Null: not measured.
    height_m = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    # Tickets before this day are of the cart as it was. Null: every ticket counts.
    tickets_from_on = models.DateField(null=True, blank=True)
    source_words = models.CharField(max_length=120)
    recorded_at = models.DateTimeField()
    recorded_by = _staff()

    class Meta:
        ordering: ClassVar[list[str]] = ["-from_on", "-recorded_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "-from_on", "-recorded_at"], name="fleet_weightsheet_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(stands_on__in=[key for key, _ in STANDS_ON])
                & models.Q(rule_set__in=[key for key, _ in RULE_SETS]),
                name="fleet_weightsheet_words_known",
                violation_error_message="Choose what the cart stands on, and the rules of the road it goes by.",
            ),
            models.CheckConstraint(
                condition=(models.Q(outer_length_m=None) | models.Q(outer_length_m__gt=0))
                & (models.Q(height_m=None) | models.Q(height_m__gt=0)),
                name="fleet_weightsheet_measures_positive",
                violation_error_message="The length between the outermost axles and the height are above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"weights from {self.source_words}"


class GroupWeights(SealedRow):
    """One axle group of a weight sheet: what the law goes by, what maker and tyres allow, and the maker's tare on it."""

    sheet = models.ForeignKey(WeightSheet, on_delete=models.PROTECT, related_name="groups")
    place = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=24)
    # A key of the rule set's table. Blank: not known.
    law_key = models.CharField(max_length=24, blank=True)
    axles = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(4)])
    # Between its outer axles; 0 for a single axle.
    spread_m = models.DecimalField(max_digits=4, decimal_places=2, default=0)
    tyres = models.PositiveSmallIntegerField(validators=[MinValueValidator(2), MaxValueValidator(16)])
    # What one tyre may carry as fitted. Null: not known.
    tyre_load_kg = models.PositiveIntegerField(null=True, blank=True)
    # Null: not known.
    maker_kg = models.PositiveIntegerField(null=True, blank=True)
    position_m = models.DecimalField(max_digits=5, decimal_places=2)
    tare_kg = models.PositiveIntegerField()

    class Meta:
        ordering: ClassVar[list[str]] = ["sheet", "place"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sheet", "place"],
                name="fleet_groupweights_place_once",
                violation_error_message="The sheet already has this axle group.",
            ),
            models.CheckConstraint(
                condition=models.Q(place__in=[1, 2]),
                name="fleet_groupweights_two_places",
                violation_error_message="A road fill is reckoned for two axle groups.",
            ),
            models.CheckConstraint(
                condition=models.Q(tare_kg__gt=0)
                & (models.Q(maker_kg=None) | models.Q(maker_kg__gt=0))
                & (models.Q(tyre_load_kg=None) | models.Q(tyre_load_kg__gt=0))
                & models.Q(spread_m__gte=0, axles__gte=1, tyres__gte=2),
                name="fleet_groupweights_figures_positive",
                violation_error_message="Tares, ratings and tyre loads are above zero; leave a rating empty where it is not known.",
            ),
            models.CheckConstraint(
                condition=~models.Q(law_key="")
                | models.Q(maker_kg__isnull=False)
                | models.Q(tyre_load_kg__isnull=False),
                name="fleet_groupweights_some_limit",
                violation_error_message="Give at least one limit of the group: the law’s, the maker’s or the tyres’.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class WeighbridgeTicket(SealedRow):
    """A cart weighed with known water aboard: kg on its two axle groups, and what of it ready to work was aboard."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="weighbridge_tickets")
    weighed_at = models.DateTimeField()
    place_words = models.CharField(max_length=80)
    number = models.CharField(max_length=40, blank=True)
    front_kg = models.PositiveIntegerField()
    rear_kg = models.PositiveIntegerField()
    water_l = models.PositiveIntegerField()
    driver_in = models.BooleanField()
    kit_in = models.BooleanField()
    fuel_eighths = models.PositiveSmallIntegerField(validators=[MaxValueValidator(FUEL_EIGHTHS)])
    by_words = models.CharField(max_length=80)
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = _staff()

    class Meta:
        ordering: ClassVar[list[str]] = ["-weighed_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "-weighed_at"], name="fleet_ticket_of_cart"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(front_kg__gt=0, rear_kg__gt=0, fuel_eighths__lte=FUEL_EIGHTHS),
                name="fleet_ticket_weights_positive",
                violation_error_message="Both axle groups weigh something, and fuel is counted in eighths.",
            ),
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("weighed_at")),
                name="fleet_ticket_has_happened",
                violation_error_message="A ticket is recorded once the cart is weighed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number or 'ticket'} of {self.place_words}"


class TicketStruck(SealedRow):
    """A ticket that counts no longer, by whom and why."""

    ticket = models.OneToOneField(WeighbridgeTicket, on_delete=models.PROTECT, related_name="struck")
    words = models.CharField(max_length=240)
    struck_at = models.DateTimeField()
    struck_by = _staff()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(words=""),
                name="fleet_ticketstruck_says_why",
                violation_error_message="Write what was wrong with it: the record keeps both.",
            ),
        ]

    def __str__(self) -> str:
        return self.words
