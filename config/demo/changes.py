"""What changed of hires promised ahead: another cart was sent, and where one works was told wrong."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial

from config.demo.story import Script, World, promise
from hire.actions.agreements import make_agreement
from hire.actions.another_cart import send_another
from hire.actions.bookings import make_booking
from hire.actions.work import change_work
from hire.models.agreements import Line
from hire.suiting import Needs
from hire.work_words import said_of, stamp

# Promised ahead, and what is sent instead.
PROMISED_FIRST, SENT_INSTEAD = "WC-14", "WC-06"
TOLD_WRONG = "WC-25"
# The only cart with a high-pressure outlet, promised for work that wants none.
ONLY_ONE = "WC-08"


def _promised(world: World, at: datetime) -> None:
    start = world.when(12, 6)
    promise(world, PROMISED_FIRST, 4, start, start + timedelta(days=4, hours=9), by_road=True, at=at)


def _sent(world: World, at: datetime) -> None:
    line = world.lines[PROMISED_FIRST]
    send_another(
        line=line, cart=world.carts[SENT_INSTEAD], instead_of=line.cart, why="Its clutch is done that week", by=world.people["dot"],
        at=at,
    )  # fmt: skip


def _put_right(world: World, at: datetime) -> None:
    line = Line.objects.for_list().get(pk=world.lines[TOLD_WRONG].pk)
    work = replace(said_of(line), place_of_work="Weir Street works, pump house", works_on="site")
    change_work(
        line=line,
        work=work,
        seen=stamp(line),
        why="The foreman says where it is",
        by=world.people["dot"],
        at=at,
    )


def _in_the_way(world: World, at: datetime) -> None:
    """A hire that several carts would do has the one a booking of the same days wants."""
    start, dot = world.when(13, 6), world.people["dot"]
    make_agreement(
        customer=world.customers[2], place_of_work="Ridge Track", order_number="PO-7188", leaves_by="road", works_on="road",
        pre_start_book="ours", cart=world.carts[ONLY_ONE], starts_at=start, ends_at=start + timedelta(days=5), by=dot, at=at,
        needs=Needs(litres=10_000),
    )  # fmt: skip
    make_booking(
        customer=world.customers[4], place_of_work="Opaline estate", order_number="PO-7191", leaves_by="float", works_on="site",
        litres=10_000, gear=("high_pressure_outlet",), starts_at=start + timedelta(days=1), ends_at=start + timedelta(days=8), by=dot, at=at,
    )  # fmt: skip


def changes(world: World, script: Script) -> None:
    script.at(world.when(-5, 11, 30), partial(_promised, world))
    script.at(world.when(-1, 14, 20), partial(_sent, world))
    script.at(world.when(-1, 14, 40), partial(_put_right, world))
    script.at(world.when(-1, 14, 50), partial(_in_the_way, world))
