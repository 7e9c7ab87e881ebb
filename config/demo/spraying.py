"""Spray figures of four carts of the demo yard; the heads of one of them that grew uneven over the months, its loads on hire; and
plans: of its job, of a pencilled cart's, and of the job an operator of the yard's goes to next."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial
from urllib.parse import urlencode

from config.demo.money import PENCILLED
from config.demo.story import Script, World
from config.demo.wet import AHEAD
from fleet.actions.spraying import SpraySheetDetails, record_evenness, record_spray_sheet
from hire.actions.job_plans import keep_job_plan
from hire.actions.loads import Teller, record_load
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from inspections import heads_tests
from inspections.heads_record import read_heads_record
from people.yard import yard_policy

GEARS = (
    ("Second low", Decimal("5.5"), Decimal(8)),
    ("Second high", Decimal("8.5"), Decimal(8)),
    ("Third low", Decimal(13), Decimal(8)),
)
QUESTION = {
    "length_m": 2400, "width_m": 8, "area_pct": 10, "target_l_m2": "0.6", "passes": 5, "haul_km": "2.5", "by_road": "on",
    "haul_km_h": 35, "slow_km_h": 25, "fast_km_h": 45, "other_min": 8, "other_most_min": 15, "hours_a_day": 10,
    "vehicles_per_h": 25, "pan_mm": 1800, "target_control_pct": 75, "road_kind": "industrial", "silt_pct": "8.3",
    "silt_more_pct": 20, "mean_mass_t": 24,
}  # fmt: skip
REAR = ("Rear left", "Rear right")
# Cart: pump L/min, heads beside the rear two.
SPRAYED: dict[str, tuple[int, tuple[str, ...]]] = {
    "WC-07": (1150, ("Side left", "Side right")),
    "WC-12": (1300, ("Side left", "Side right", "Batter left", "Batter right")),
    "WC-23": (1400, ("Side left", "Side right")),
    "WC-25": (1200, ("Side left", "Side right")),
}
# Litres in fifteen seconds, head by head, and how long ago.
WORSE = (
    (-150, ("74.5", "75.5", "75", "74")),
    (-75, ("73", "76", "69.5", "71")),
    (-6, ("71", "77", "63", "66.5")),
)


def _sheet(world: World, number: str, at: datetime) -> None:
    gives, beside = SPRAYED[number]
    heads = (*REAR, *beside)
    sides = list(range(3, len(heads) + 1))
    record_spray_sheet(
        cart=world.carts[number],
        details=SpraySheetDetails(
            pump="engine", pump_l_min=Decimal(gives), pump_kpa=Decimal(240), pump_rpm=1500, gears_rpm=1500,
            rpms=[1200, 1500, 1800], head_kpa=Decimal(240),
            words="Timed on the back lane with a watch",
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


def _test(world: World, number: str, litres: Sequence[str], done_at: datetime, at: datetime) -> None:
    [sheet] = world.carts[number].spray_sheets.whole()
    record_evenness(
        sheet=sheet,
        done_at=done_at,
        pressure_kpa=Decimal(240),
        caught={
            head.pk: (Decimal(caught), Decimal(15))
            for head, caught in zip(sheet.heads.all(), litres, strict=True)
        },
        words="Brought over from the workshop card",
        by=world.people["isla"],
        at=at,
    )


def _test_on_tablet(
    world: World, number: str, litres: Sequence[str], caught_at: datetime, at: datetime
) -> None:
    """Caught in the wash bay with no signal, and sent once the tablet had one."""
    [sheet] = world.carts[number].spray_sheets.whole()
    hand, moment = world.people["isla"], caught_at.isoformat()
    record = {
        "version": 1, "kind": heads_tests.PURPOSE, "id": str(uuid.uuid4()), "cart": str(sheet.cart_id), "sheet": str(sheet.pk),
        "started_at": moment, "signed_at": (caught_at + timedelta(minutes=3)).isoformat(),
        "author": {"id": str(hand.pk), "name": hand.full_name, "how": "sign_in"},
        "device": {"id": "yard-tablet-1", "time_zone": str(yard_policy().zone), "offset_ms": 0},
        "pressure_kpa": "240", "pressure_at": moment, "words": "",
        "catches": [
            {"head": str(head.pk), "name": head.name, "litres": caught, "seconds": "15", "at": moment}
            for head, caught in zip(sheet.heads.all(), litres, strict=True)
        ],
        "signature": {"kind": "typed", "name": hand.full_name, "statement": heads_tests.STATEMENT, "strokes": []},
    }  # fmt: skip
    heads_tests.sign_heads_test(record=read_heads_record(record), by=hand, at=at)


STANDPIPE = {"fill_point": "Standpipe, Weir Street", "source": "potable", "permit_words": "SP-14"}
DAM = {"fill_point": "Callabar dam", "source": "dam", "permit_words": "WL-0881"}


def _load(world: World, number: str, said: dict[str, str], at: datetime) -> None:
    """Put down by the yard from the driver's radio call."""
    line = world.lines[number]
    record_load(
        line=line, load_id=uuid.uuid4(), litres=13_500, taken_at=at, teller=Teller(by=world.people["dot"]), at=at, **said,
    )  # fmt: skip


def _plan(world: World, words: str, name: str, place: Line | Pencil, **changed: object) -> None:
    question = urlencode(QUESTION | changed | {name: place.pk})
    keep_job_plan(
        words=words, question=question, **{name: place}, by=world.people["dot"], at=world.now  # type: ignore[arg-type]
    )  # fmt: skip


def planned(world: World) -> None:
    """Once the story is told, so that each cart has what it is kept with."""
    _plan(world, "Weir Street works, haul road", "line", world.lines["WC-07"])
    _plan(world, "Weir Street works, side tracks", "line", world.lines[AHEAD], length_m=1800, passes=6)
    kept = Pencil.objects.get(cart=world.carts[PENCILLED])
    _plan(world, "Solar farm, access road", "pencil", kept, length_m=5200, width_m=6, passes=2)


def spraying(world: World, script: Script) -> None:
    for n, number in enumerate(SPRAYED):
        script.at(world.when(-26, 9, n * 15), partial(_sheet, world, number))
    for days, litres in WORSE:
        done_at = world.when(days, 11)
        told_at = max(done_at + timedelta(minutes=20), world.when(-25, 10, -days % 60))
        test = _test_on_tablet if days > -26 else _test
        script.at(told_at, partial(test, world, "WC-07", litres, done_at))
    for hour, minute in ((6, 40), (8, 5), (9, 35), (11, 4), (13, 10), (14, 40)):
        for days in (-2, -1, 0):
            script.at(
                world.when(days, hour, minute + days),
                partial(_load, world, "WC-07", DAM if hour == 11 else STANDPIPE),
            )
