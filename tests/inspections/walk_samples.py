"""Walk-rounds as plain facts, for the rules of truthfulness: a sound one is raised about by nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from inspections.chance import Group
from inspections.walk_facts import EarlierWalk, Look, MeterPoint, Reading, Shot, Walk

BEGUN = datetime(2026, 11, 30, 20, 30, tzinfo=UTC)
STATIONS = ("Cab", "Front and engine", "Right side", "Right rear wheels", "Rear", "Left side")


def look(number: int, at: timedelta, **changed: Any) -> Look:
    """One sound look, answered so long after the walk-round was begun."""
    sound = Look(
        number=number, check=f"check-{number}", title=f"Check {number}", walk_pass=1, station="Rear", place="",
        answer="good", value="", unit="", minutes=Decimal("0.6"), answered_at=BEGUN + at,
    )  # fmt: skip
    return replace(sound, **changed)


def looks(count: int, *, each: timedelta = timedelta(seconds=36), **changed: Any) -> tuple[Look, ...]:
    """So many looks at an even pace, shared out over the stations in their order."""
    return tuple(
        look(
            number,
            each * number,
            **({"station": STATIONS[(number - 1) * len(STATIONS) // count]} | changed),
        )
        for number in range(1, count + 1)
    )


def walk(taken: tuple[Look, ...] | None = None, **changed: Any) -> Walk:
    """Signed half a minute after the last of its looks; thirty at an even pace when none are given."""
    taken = looks(30) if taken is None else taken
    ended = max((one.answered_at for one in taken), default=BEGUN) + timedelta(seconds=30)
    sound = Walk(
        id="walk", cart="cart-1", purpose="daily", author="ruby", author_name="Ruby Tane", started_at=BEGUN,
        ended_at=ended, signed_at=ended, told=False, looks=taken,
    )  # fmt: skip
    return replace(sound, **changed)


def shot(number: int, look_alike: str, *, station: str = "Rear") -> Shot:
    return Shot(f"{number:064x}", look_alike, f"Check {number}", station)


def measured(number: int, value: str, **changed: Any) -> Look:
    """A tread depth as a look, at the n-th tyre."""
    return look(
        number, timedelta(seconds=36 * number),
        **({"check": "tread", "title": "Tread depth", "place": f"tyre {number}", "value": value, "unit": "mm"} | changed),
    )  # fmt: skip


def reading(value: str, *, days_ago: float, **changed: Any) -> Reading:
    """An earlier reading of the first tyre's tread on the same cart."""
    before = Reading(
        walk=f"walk-{days_ago}", cart="cart-1", author="ruby", check="tread", place="tyre 1", value=value, unit="mm",
        meter="", read_at=BEGUN - timedelta(days=days_ago),
    )  # fmt: skip
    return replace(before, **changed)


def odometer(value: int, *, days_ago: float, meter: str = "first", kind: str = "km") -> MeterPoint:
    return MeterPoint(meter, kind, Decimal(value), BEGUN - timedelta(days=days_ago))


def rounds(told: int, of: int, *, author: str = "ruby", cart: str = "cart-1", purpose: str = "daily"):
    """Earlier walk-rounds of one person on one sheet of one cart, so many of which told of something new."""
    return tuple(EarlierWalk(cart, purpose, author, number < told) for number in range(of))


def groups_of(words: str) -> list[Group]:
    """Groups as they are printed, 3/4 1/4, 0/6 0/5: in each the person's hits of tries, then the others'."""
    sides = [side.split("/") for group in words.split(", ") for side in group.split(" ")]
    return [
        Group(int(own[0]), int(own[1]), int(other[0]), int(other[1]))
        for own, other in zip(sides[::2], sides[1::2], strict=True)
    ]
