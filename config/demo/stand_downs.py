"""Days stood down in the invented yard: one agreed at once, one claimed and not answered, one struck out."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from config.demo.story import Script, World
from hire.actions.stand_down_claims import claim_stand_down
from hire.actions.stand_downs import StoodDown, stand_down, strike_stand_down
from people.yard import yard_day


def stand_downs(world: World, script: Script) -> None:
    script.at(world.when(-1, 15), lambda at: _stand_down(world, at))
    script.at(world.when(-1, 16), lambda at: _other_days(world, at))


def _stand_down(world: World, at: datetime) -> None:
    stand_down(
        line=world.lines["WC-15"],
        on=yard_day(at),
        why="Rain, no work on the shire roads",
        told_by_words="Col Brandt, by phone",
        facts=StoodDown(
            told_at=world.when(-1, 6, 20),
            worked_hours=Decimal(0),
            customer_words="Too wet to grade, everybody stood down",
            yard_words="Our gauge showed 22 mm overnight",
        ),
        by=world.people["dot"],
        at=at,
    )


def _other_days(world: World, at: datetime) -> None:
    """A day claimed and not answered yet, and one entered for the wrong cart, so struck out."""
    dot = world.people["dot"]
    claim_stand_down(
        line=world.lines["WC-05"], on=yard_day(at), why="Pump would not prime until noon", kind="breakdown",
        told_by_words=f"{world.lines['WC-05'].agreement.customer.contact_name}, by phone",
        facts=StoodDown(told_at=world.when(-1, 7, 5), lost_hours=Decimal(5), customer_words="Five hours without water"), by=dot, at=at,
    )  # fmt: skip
    wrong = stand_down(
        line=world.lines["WC-01"],
        on=yard_day(at),
        why="Rain",
        told_by_words="Col Brandt, by phone",
        by=dot,
        at=at,
    )
    strike_stand_down(stand_down=wrong, why="Told of WC-15, entered for WC-01", by=dot, at=at)
