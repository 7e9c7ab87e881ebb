"""What the demo's desk decided of carts that came back: a dent and a cut tyre charged, fair wear let go, a hose that was missing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from hire.actions.back import charge_found, count_kit, let_go_found
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.back import Proposal, Typed

HOSE = 3
# What is typed and the words; nothing typed: let go; no words: left to be decided.
Decide = Callable[[Proposal], tuple[Typed | None, str]]


def decided(world: World, script: Script) -> None:
    """The rest is left for whoever looks at the demo."""
    script.at(world.when(-14, 16, 20), partial(_count, world, "WC-02"))
    for cart, day, decide in (("WC-02", -13, _hose), ("WC-04", -11, _tyre), ("WC-06", -11, _dent)):
        script.at(world.when(day, 11), partial(_decide, world, cart, decide))
    for cart, day in (("WC-02", -12), ("WC-04", -10), ("WC-23", -7), ("WC-19", -6)):
        script.at(world.when(day, 11, 30), partial(_decide, world, cart, _no_more))


def _count(world: World, cart: str, at: datetime) -> None:
    counted = {1: ("back", ""), 2: ("back", ""), HOSE: ("missing", "Left at the fill point, they say")}
    count_kit(line=world.lines[cart], counted=counted, by=world.people["wes"], at=at)


def _decide(world: World, cart: str, decide: Decide, at: datetime) -> None:
    line, dot = world.lines[cart], world.people["dot"]
    line.refresh_from_db()
    for one in decidables(read_record(line)):
        if one.again or not one.is_open:
            continue
        typed, words = decide(one.proposal)
        if typed is None:
            let_go_found(line=line, key=one.proposal.key, reason="fair_wear", words=words, by=dot, at=at)
        elif words:
            charge_found(line=line, key=one.proposal.key, typed=typed, words=words, by=dot, at=at)


def _hose(proposal: Proposal) -> tuple[Typed | None, str]:
    if proposal.kind == "kit":
        return Typed(amount=Decimal(140)), "20 m layflat hose with couplings, at cost"
    return (Typed(), "") if proposal.kind == "fuel" else (None, "Mud of the work")


def _tyre(proposal: Proposal) -> tuple[Typed | None, str]:
    if proposal.kind == "tyre":
        typed = Typed(tyre=proposal.tyres[0].code, fitted_cost=Decimal(760), call_out=Decimal(120))
        return typed, "Sidewall cut on a star picket, changed on site"
    return (
        (Typed(man_hours=Decimal("3.5")), "Two hands on the belly and guards")
        if proposal.kind == "cleaning"
        else (Typed(), "")
    )


def _dent(proposal: Proposal) -> tuple[Typed | None, str]:
    if proposal.kind == "fuel":
        return Typed(litres=Decimal("61.4"), docket="F-2207"), "Filled at the yard"
    if "Side board" in proposal.shown:
        return Typed(amount=Decimal("240.50")), "Side board straightened, two hours and paint"
    return None, "Bolt rusted through"


def _no_more(proposal: Proposal) -> tuple[Typed | None, str]:
    words = {"fuel": "Filled on the way home, by their receipt", "cleaning": "Within the hours that are free"}
    return None, words.get(proposal.kind, "Wear of the work")
