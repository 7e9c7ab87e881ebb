"""A cart's spray figures, kept by version: each is written once, and the newest counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import ClassVar, TypeVar
from uuid import UUID

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models

from fleet.models.carts import Cart
from fleet.models.weights import TankMeasured
from fleet.water import spray_sheet as pure
from people.rows import SealedRow

PUMPS = [("engine", "By the truck’s engine"), ("own engine", "By an engine of its own")]
ABOVE_ZERO = "Every figure of a spray sheet is above zero; only what the pump can’t draw may be zero."


class SpraySheetQuerySet(models.QuerySet["SpraySheet"]):
    def newest_each(self) -> SpraySheetQuerySet:
        """The sheet in force of each cart."""
        return self.order_by("cart_id", "-version").distinct("cart_id")

    def whole(self) -> SpraySheetQuerySet:
        return self.select_related("recorded_by").prefetch_related("gears", "heads", "openings")


class SpraySheet(SealedRow):
    """How much the pump gives, what each head takes, how fast each gear goes and how wide it wets. How fast it fills and what the
    pump can't draw are its tank's."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="spray_sheets")
    # Counted from 1 in each cart.
    version = models.PositiveIntegerField()
    pump = models.CharField("The pump is driven", max_length=10, choices=PUMPS)
    pump_l_min = models.DecimalField(max_digits=7, decimal_places=1)
    pump_kpa = models.DecimalField(max_digits=7, decimal_places=1)
    # The truck's engine, when the pump's flow was measured.
    pump_rpm = models.PositiveIntegerField()
    gears_rpm = models.PositiveIntegerField()
    rpms = ArrayField(models.PositiveIntegerField())
    head_kpa = models.DecimalField(max_digits=7, decimal_places=1)
    # Null: the tank has them. Older sheets keep what they were recorded with, which counts where the tank has none.
    fill_l_min = models.DecimalField(max_digits=7, decimal_places=1, null=True)
    dead_l = models.DecimalField(max_digits=7, decimal_places=1, null=True)
    # How the figures were come by.
    words = models.CharField(max_length=160)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[SpraySheetQuerySet] = SpraySheetQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-version"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "version"],
                name="fleet_spraysheet_version_once",
                violation_error_message="Somebody else recorded spray figures of this cart just now. Look at those first.",
            ),
            models.CheckConstraint(
                condition=models.Q(pump__in=[pump for pump, _ in PUMPS]),
                name="fleet_spraysheet_pump_known",
                violation_error_message="Say what drives the pump.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    pump_l_min__gt=0, pump_kpa__gt=0, pump_rpm__gt=0, gears_rpm__gt=0, rpms__len__gt=0, head_kpa__gt=0,
                )
                & (
                    models.Q(fill_l_min=None, dead_l=None)
                    # "Above zero" alone lets one that is not there through.
                    | models.Q(fill_l_min__isnull=False, dead_l__isnull=False, fill_l_min__gt=0, dead_l__gte=0)
                ),
                name="fleet_spraysheet_above_zero",
                violation_error_message=ABOVE_ZERO,
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"spray figures {self.version}"

    def head_facts(self) -> list[tuple[str, str, Decimal, Decimal]]:
        """What a test of heads is judged by: name, nozzle, flow when new and the pressure of it. One query unless loaded."""
        return [(row.name, row.nozzle, row.nominal_l_min, self.head_kpa) for row in self.heads.all()]

    def figures(self) -> pure.SpraySheet:
        """As the pure rules take them, with its tank as measured. Its gears, heads and openings are read unless they were loaded
        with it."""
        tank = TankMeasured.objects.filter(cart=self.cart_id).first()
        return _figures(self, tank, self.gears.all(), self.heads.all(), self.openings.all())


class SprayGear(SealedRow):
    sheet = models.ForeignKey(SpraySheet, on_delete=models.PROTECT, related_name="gears")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=30)
    speed_km_h = models.DecimalField(max_digits=5, decimal_places=2)
    width_m = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering: ClassVar[list[str]] = ["position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sheet", "position"],
                name="fleet_spraygear_once_a_place",
                violation_error_message="Two gears stand in one place of these spray figures.",
            ),
            models.CheckConstraint(
                condition=models.Q(speed_km_h__gt=0, width_m__gt=0),
                name="fleet_spraygear_above_zero",
                violation_error_message="A gear has a speed and a width above zero.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SprayHead(SealedRow):
    sheet = models.ForeignKey(SpraySheet, on_delete=models.PROTECT, related_name="heads")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=30)
    nozzle = models.CharField(max_length=40)
    nominal_l_min = models.DecimalField(max_digits=7, decimal_places=1)

    class Meta:
        ordering: ClassVar[list[str]] = ["position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sheet", "position"],
                name="fleet_sprayhead_once_a_place",
                violation_error_message="Two heads stand in one place of these spray figures.",
            ),
            models.CheckConstraint(
                condition=models.Q(nominal_l_min__gt=0),
                name="fleet_sprayhead_above_zero",
                violation_error_message="A head has a flow when new above zero.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SprayOpening(SealedRow):
    """Heads opened together, by their positions."""

    sheet = models.ForeignKey(SpraySheet, on_delete=models.PROTECT, related_name="openings")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=30)
    heads = ArrayField(models.PositiveSmallIntegerField())
    # Null: as wide as the gear says.
    width_m = models.DecimalField(max_digits=5, decimal_places=2, null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sheet", "position"],
                name="fleet_sprayopening_once_a_place",
                violation_error_message="Two choices of heads stand in one place of these spray figures.",
            ),
            models.CheckConstraint(
                condition=models.Q(heads__len__gt=0)
                & (models.Q(width_m=None) | models.Q(width_m__gt=0, width_m__isnull=False)),
                name="fleet_sprayopening_some_heads",
                violation_error_message="Some heads are open, over a width above zero.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


def dead_l_of(sheet: SpraySheet | None, tank: TankMeasured | None) -> float:
    """What the pump can't draw: as its tank was measured, else as an older sheet kept it, else nothing known of it."""
    kept = tank.dead_l if tank else sheet.dead_l if sheet else None
    return 0.0 if kept is None else float(kept)


def _fill_l_min(sheet: SpraySheet, tank: TankMeasured | None) -> float | None:
    kept = tank.fill_l_min if tank and tank.fill_l_min else sheet.fill_l_min
    return None if kept is None else float(kept)


def _figures(
    sheet: SpraySheet,
    tank: TankMeasured | None,
    gears: Iterable[SprayGear],
    heads: Iterable[SprayHead],
    openings: Iterable[SprayOpening],
) -> pure.SpraySheet:
    heads = list(heads)
    names = {row.position: row.name for row in heads}
    return pure.SpraySheet(
        pump="own engine" if sheet.pump == "own engine" else "engine",
        pump_l_min=float(sheet.pump_l_min),
        pump_kpa=float(sheet.pump_kpa),
        pump_rpm=sheet.pump_rpm,
        gears_rpm=sheet.gears_rpm,
        rpms=tuple(sheet.rpms),
        head_kpa=float(sheet.head_kpa),
        fill_l_min=_fill_l_min(sheet, tank),
        dead_l=dead_l_of(sheet, tank),
        gears=tuple(pure.Gear(row.name, float(row.speed_km_h), float(row.width_m)) for row in gears),
        heads=tuple(pure.Head(row.name, row.nozzle, float(row.nominal_l_min)) for row in heads),
        openings=tuple(
            pure.Opening(
                row.name,
                tuple(names[number] for number in row.heads),
                None if row.width_m is None else float(row.width_m),
            )
            for row in openings
        ),
    )


def names_of_openings(carts: Collection[Cart]) -> set[str]:
    """What the choices of heads of carts are called, on the sheets in force. One query."""
    sheets = SpraySheet.objects.filter(cart__in=carts).newest_each()
    return set(SprayOpening.objects.filter(sheet__in=sheets.values("pk")).values_list("name", flat=True))


Part = TypeVar("Part", SprayGear, SprayHead, SprayOpening)


def figures_of(carts: Collection[Cart]) -> dict[UUID, pure.SpraySheet]:
    """The figures in force of each cart that has some. Five queries however many carts."""
    sheets = list(SpraySheet.objects.filter(cart__in=carts).newest_each())
    measured = TankMeasured.objects.filter(cart__in=carts)
    newest = measured.order_by("cart_id", "-measured_on", "-recorded_at").distinct("cart_id")
    tanks = {row.cart_id: row for row in newest}
    gears, heads, openings = (
        _parts(SprayGear, sheets),
        _parts(SprayHead, sheets),
        _parts(SprayOpening, sheets),
    )
    return {
        one.cart_id: _figures(one, tanks.get(one.cart_id), gears[one.pk], heads[one.pk], openings[one.pk])
        for one in sheets
    }


def _parts(model: type[Part], sheets: Collection[SpraySheet]) -> Mapping[UUID, list[Part]]:
    """By sheet, in their places. Loaded with each sheet, five hundred of them would cost more than all that is reckoned."""
    found: defaultdict[UUID, list[Part]] = defaultdict(list)
    for row in model.objects.filter(sheet__in=sheets).order_by("position"):
        found[row.sheet_id].append(row)
    return found
