"""The cart itself: what it is, its axle groups, what is fitted to it and where it is."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models.functions import Upper

from fleet.gear import GEAR, TANK_MATERIALS
from fleet.querysets import CartQuerySet
from people.rows import Row

STEERING_SIDES = [("right", "Right-hand drive"), ("left", "Left-hand drive")]
TANK_SHAPES = [("ellipse", "Ellipse"), ("cylinder", "Cylinder"), ("box", "Box")]
WHERE_KINDS = [
    ("yard", "In the yard"),
    ("site", "On a site"),
    ("float", "On a float"),
    ("workshop", "At an outside workshop"),
    ("road", "On the road"),
]


class Cart(Row):
    fleet_number = models.CharField(
        max_length=12, validators=[RegexValidator(r"^[A-Za-z0-9-]+$", "Use letters, digits and hyphens.")]
    )
    # Blank: never registered for a road.
    plate = models.CharField(max_length=12, blank=True)
    vin = models.CharField("VIN", max_length=17, blank=True)
    make = models.CharField(max_length=40)
    model = models.CharField(max_length=40)
    build_year = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1970), MaxValueValidator(2100)]
    )
    steering_side = models.CharField(max_length=5, choices=STEERING_SIDES, default="right")
    tank_shape = models.CharField(max_length=8, choices=TANK_SHAPES, default="ellipse")
    tank_length_m = models.DecimalField(max_digits=5, decimal_places=2)
    tank_width_m = models.DecimalField(max_digits=5, decimal_places=2)
    tank_height_m = models.DecimalField(max_digits=5, decimal_places=2)
    tank_capacity_l = models.PositiveIntegerField()
    tank_material = models.CharField(max_length=9, choices=list(TANK_MATERIALS.items()), default="steel")
    # Both sides together. Null: nobody has written it down.
    fuel_tank_l = models.PositiveIntegerField(null=True, blank=True)
    gross_limit_kg = models.PositiveIntegerField()
    home_yard = models.CharField(max_length=60, default="Home yard")
    where_kind = models.CharField(max_length=8, choices=WHERE_KINDS, default="yard")
    where_words = models.CharField(max_length=80, blank=True)
    keys_words = models.CharField(max_length=80, blank=True)
    # When it was last driven or carried anywhere: a pre-hire check holds only until then. Null: not since it joined.
    last_moved_at = models.DateTimeField(null=True, blank=True)
    # Random, printed on the cart's QR plate. It opens the cart for somebody signed in and grants nothing by itself.
    plate_code = models.CharField(max_length=16, unique=True)
    # Null: in the fleet.
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar[CartQuerySet] = CartQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["fleet_number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                Upper("fleet_number"),
                name="fleet_cart_fleet_number_once",
                violation_error_message="Another cart already has this fleet number. Choose another.",
            ),
            models.UniqueConstraint(
                Upper("plate"),
                condition=~models.Q(plate="") & models.Q(retired_on=None),
                name="fleet_cart_plate_once",
                violation_error_message="Another cart of the fleet already carries this plate. Check the plate.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    tank_length_m__gt=0,
                    tank_width_m__gt=0,
                    tank_height_m__gt=0,
                    tank_capacity_l__gt=0,
                    gross_limit_kg__gt=0,
                ),
                name="fleet_cart_sizes_positive",
                violation_error_message="Tank sizes, capacity and gross limit must be above zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(fuel_tank_l=None) | models.Q(fuel_tank_l__gt=0),
                name="fleet_cart_fuel_tank_positive",
                violation_error_message="Fuel tanks hold more than nothing. Leave it blank where it is not known.",
            ),
            models.CheckConstraint(
                condition=~models.Q(tank_shape="cylinder") | models.Q(tank_width_m=models.F("tank_height_m")),
                name="fleet_cart_cylinder_is_round",
                violation_error_message="A cylinder is as wide as it is high. Choose ellipse, or correct the sizes.",
            ),
        ]

    def __str__(self) -> str:
        return self.fleet_number

    @property
    def make_model(self) -> str:
        return f"{self.make} {self.model}"

    @property
    def where_sentence(self) -> str:
        """Where it is and who has the keys, as in "On a site, Pit 4. Keys: key safe" with its full stop."""
        where = self.get_where_kind_display() + (f", {self.where_words}" if self.where_words else "")
        return f"{where}." + (f" Keys: {self.keys_words}." if self.keys_words else "")


class AxleGroup(Row):
    """A group of axles, counted from the front: a steer axle, a drive tandem."""

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="axle_groups")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=5, choices=[("steer", "Steer"), ("drive", "Drive")])
    axles = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(3)])
    has_duals = models.BooleanField(default=False)
    position_m = models.DecimalField(
        "Centre of the group behind the front axle (m)", max_digits=5, decimal_places=2
    )
    tare_kg = models.PositiveIntegerField()
    limit_kg = models.PositiveIntegerField()

    class Meta:
        ordering: ClassVar[list[str]] = ["cart", "position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "position"],
                name="fleet_axlegroup_position_once",
                violation_error_message="The cart already has an axle group at this place.",
            ),
            models.CheckConstraint(
                condition=models.Q(limit_kg__gte=models.F("tare_kg")),
                name="fleet_axlegroup_limit_over_tare",
                violation_error_message="The limit of an axle group cannot be below its tare.",
            ),
            models.CheckConstraint(
                condition=models.Q(axles__gte=1, axles__lte=3),
                name="fleet_axlegroup_one_to_three_axles",
                violation_error_message="A group has one to three axles.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} group {self.position}"


class Fitment(Row):
    """Gear on a cart, from the day it was fitted until the day it came off."""

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="fitments")
    kind = models.CharField(max_length=24, choices=list(GEAR.items()))
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    details = models.CharField(max_length=120, blank=True)
    fitted_on = models.DateField()
    # Null: still fitted.
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["cart", "kind"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "kind"],
                condition=models.Q(removed_on=None),
                name="fleet_fitment_kind_once",
                violation_error_message="This gear is already recorded as fitted. Change its count instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(removed_on=None) | models.Q(removed_on__gte=models.F("fitted_on")),
                name="fleet_fitment_period_in_order",
                violation_error_message="Gear cannot come off before it was fitted.",
            ),
            models.CheckConstraint(
                condition=models.Q(count__gte=1),
                name="fleet_fitment_count_positive",
                violation_error_message="At least one is fitted.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Meter(Row):
    """A meter on a cart. A changed meter is a new row: readings are compared within one meter only."""

    KINDS: ClassVar = [("engine_hours", "Engine hours"), ("pump_hours", "Pump hours"), ("km", "Odometer km")]

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="meters")
    kind = models.CharField(max_length=12, choices=KINDS)
    fitted_at = models.DateTimeField()
    # Null: the meter now on the cart.
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "kind"],
                condition=models.Q(removed_at=None),
                name="fleet_meter_one_now",
                violation_error_message="The cart already has this meter. Record a meter change instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(removed_at=None) | models.Q(removed_at__gt=models.F("fitted_at")),
                name="fleet_meter_period_in_order",
                violation_error_message="A meter cannot come off before it was fitted.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class MeterReading(Row):
    """A reading that fits its neighbours. The database refuses one that goes backwards (fleet_meter_forward)."""

    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="readings")
    value = models.DecimalField(max_digits=10, decimal_places=1)
    read_at = models.DateTimeField()
    # What it was derived from: ("walk_round", id).
    source_kind = models.CharField(max_length=20)
    source_id = models.UUIDField()

    class Meta:
        ordering: ClassVar[list[str]] = ["read_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["meter", "-read_at"], name="fleet_meterreading_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(value__gte=Decimal(0)),
                name="fleet_meterreading_not_negative",
                violation_error_message="A meter never reads below zero.",
            ),
            models.UniqueConstraint(
                fields=["meter", "source_kind", "source_id"],
                name="fleet_meterreading_once_a_source",
                violation_error_message="This record already gave a reading of this meter.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.value}"


class ReadingQuestion(Row):
    """A reading that does not fit: kept as it was signed, asked about, never counted until a person has settled it."""

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="reading_questions")
    subject = models.CharField(max_length=60)
    value = models.DecimalField(max_digits=10, decimal_places=1)
    read_at = models.DateTimeField()
    question = models.CharField(max_length=240)
    source_kind = models.CharField(max_length=20)
    source_id = models.UUIDField()
    # Null: nobody has settled it.
    settled_at = models.DateTimeField(null=True)
    settled_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["read_at"]

    def __str__(self) -> str:
        return self.question
