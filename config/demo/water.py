"""Two potable tanks of the demo yard: one kept for potable water and sanitised, the other spoilt by one fill at a dam."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from fleet.actions.water import SanitisingDetails, record_sanitising, record_test, record_water

STANDPIPE = {"place_words": "Standpipe, Weir Street", "permit_words": "SP-0417"}


def _fill(world: World, number: str, source: str, said: dict[str, str], who: str, at: datetime) -> None:
    record_water(
        cart=world.carts[number], source=source, filled_at=at, by=world.people[who], at=at, **said,
    )  # fmt: skip


def _sanitise(world: World, number: str, at: datetime) -> None:
    record_sanitising(
        cart=world.carts[number],
        details=SanitisingDetails(
            done_at=at,
            how="Emptied, scrubbed from the hatch; hoses and pump run through",
            product="Sodium hypochlorite 12.5 %",
            dose_mg_l=Decimal(10),
            minutes=720,
            rinse="Twice from the mains, run to the wash-bay pit",
            residual_mg_l=Decimal("0.60"),
            by_words="Wes Tonkin",
        ),
        by=world.people["wes"],
        at=at,
    )


def _test(world: World, number: str, at: datetime) -> None:
    [row] = world.carts[number].sanitisings.filter(tested_at=None, struck_at=None)
    record_test(
        sanitising=row, tested_at=row.done_at, test_passed=True, by=world.people["bruna"], at=at,
        test_words="Marlock Water Laboratory, report 2208: no coliforms in 100 mL",
    )  # fmt: skip


def tanks(world: World, script: Script) -> None:
    for n, number in enumerate(("WC-10", "WC-18")):
        script.at(world.when(-24, 15, n), partial(_sanitise, world, number))
        script.at(world.when(-21, 10, n), partial(_test, world, number))
        for days in (-20, -13, -8):
            script.at(world.when(days, 7, 20 + n), partial(_fill, world, number, "potable", STANDPIPE, "wes"))
    dam = {"place_words": "Callabar pit, east dam"}
    script.at(world.when(-5, 14), partial(_fill, world, "WC-18", "dam", dam, "ruby"))
