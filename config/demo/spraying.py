"""Spray figures of three carts of the demo yard, and the heads of one of them that grew uneven over the months."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from fleet.actions.spraying import SpraySheetDetails, record_evenness, record_spray_sheet
from fleet.models.carts import Cart

GEARS = (
    ("Second low", Decimal("5.5"), Decimal(8)),
    ("Second high", Decimal("8.5"), Decimal(8)),
    ("Third low", Decimal(13), Decimal(8)),
)
REAR = ("Rear left", "Rear right")
# Cart: pump L/min, heads beside the rear two, fill L/min, what the pump can't draw.
SPRAYED: dict[str, tuple[int, tuple[str, ...], int, int]] = {
    "WC-07": (1150, ("Side left", "Side right"), 950, 250),
    "WC-12": (1300, ("Side left", "Side right", "Batter left", "Batter right"), 1100, 200),
    "WC-23": (1400, ("Side left", "Side right"), 1250, 300),
}
# Litres in fifteen seconds, head by head, and how long ago.
WORSE = (
    (-150, ("74.5", "75.5", "75", "74")),
    (-75, ("73", "76", "69.5", "71")),
    (-6, ("71", "77", "63", "66.5")),
)


def _sheet(world: World, number: str, at: datetime) -> None:
    gives, beside, fill, dead = SPRAYED[number]
    heads = (*REAR, *beside)
    sides = list(range(3, len(heads) + 1))
    record_spray_sheet(
        cart=world.carts[number],
        details=SpraySheetDetails(
            pump="engine", pump_l_min=Decimal(gives), pump_kpa=Decimal(240), pump_rpm=1500, gears_rpm=1500,
            rpms=[1200, 1500, 1800], head_kpa=Decimal(240), fill_l_min=Decimal(fill), dead_l=Decimal(dead),
            words="Timed on the back lane with a watch, and the fill at Weir Street",
            gears=GEARS,
            heads=[(name, "fan, 60 mm", Decimal(300)) for name in heads],
            openings=[
                ("All heads", list(range(1, len(heads) + 1)), None),
                ("Rear only", [1, 2], Decimal(6)),
                ("Sides only", sides, Decimal(5)),
            ],
        ),
        by=world.people["teo"],
        at=at,
    )  # fmt: skip


def _test(cart: Cart, litres: Sequence[str], done_at: datetime, world: World, at: datetime) -> None:
    [sheet] = cart.spray_sheets.whole()
    record_evenness(
        sheet=sheet,
        done_at=done_at,
        pressure_kpa=Decimal(240),
        caught={
            head.pk: (Decimal(caught), Decimal(15))
            for head, caught in zip(sheet.heads.all(), litres, strict=True)
        },
        words="" if at - done_at < timedelta(days=20) else "Brought over from the workshop card",
        by=world.people["isla"],
        at=at,
    )


def spraying(world: World, script: Script) -> None:
    for n, number in enumerate(SPRAYED):
        script.at(world.when(-26, 9, n * 20), partial(_sheet, world, number))
    for days, litres in WORSE:
        done_at = world.when(days, 11)
        told_at = max(done_at + timedelta(minutes=20), world.when(-25, 10, -days % 60))
        script.at(
            told_at, lambda at, done=done_at, row=litres: _test(world.carts["WC-07"], row, done, world, at)
        )
