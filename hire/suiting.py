"""How well a cart suits a caller: what it lacks of what was asked, and in which order suiting carts are offered.

Common practice, no source: a yard sends the least cart that does the work, so that the larger one is there for who needs it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from hire.shifts import WORKED

# "Eighteen thousand or near": so far below what was asked a cart is still offered, after those that have it.
NEAR = 0.9
# What one more than asked costs in the order: a thousand litres, a piece of gear, a thing that falls due while it is out.
LITRES_STEP, PER_GEAR, PER_DUE = 1000, 0.5, 1.5
# After what is worked so; by day goes without saying.
BY_SHIFT = {"day": "", "night": " by night", "both": " by day and night"}
DRIVEN = {0: "driven axles not recorded", 1: "one driven axle", 2: "two driven axles"}


@dataclass(frozen=True)
class Needs:
    """What a cart must be for a hire, kept with its promise: litres of tank, and on a public road, at least, 0: any; gear: kinds of
    fleet.gear; drive_axles 0: any."""

    litres: int = 0
    road_litres: int = 0
    gear: frozenset[str] = frozenset()
    drive_axles: int = 0


ANY_CART = Needs()


@dataclass(frozen=True)
class Enquiry:
    """What a caller asks for. Times aware, half-open; litres of tank at least, 0: any; road_litres: what it
    may carry on a public road at least, 0: any; drive_axles 0: any; gear: kinds of
    fleet.gear; is_wet: with an operator of ours for each shift (a key of hire.shifts.WORKED), who works hours_a_day, 0: not said,
    and travels travel_hours besides. ValueError for a period that ends before it begins, litres or hours below zero, or a shift
    that is none."""

    start: datetime
    end: datetime
    litres: int = 0
    gear: frozenset[str] = frozenset()
    drive_axles: int = 0
    leaves_by: str = "road"
    works_on: str = "road"
    is_potable: bool = False
    road_litres: int = 0
    is_wet: bool = False
    hours_a_day: Decimal = Decimal(0)
    shift: str = "day"
    travel_hours: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ValueError("The hire ends before it starts. Correct one of the two times.")
        if self.litres < 0 or self.road_litres < 0:
            raise ValueError("Litres are not below zero.")
        if self.hours_a_day < 0 or self.travel_hours < 0:
            raise ValueError("Hours are not below zero.")
        if self.shift not in WORKED:
            raise ValueError(f"A hire is worked by {', '.join(WORKED)}, not {self.shift}.")

    @property
    def needs(self) -> Needs:
        return Needs(self.litres, self.road_litres, self.gear, self.drive_axles)


@dataclass(frozen=True)
class Build:
    """What a cart is: litres of its tank, its driven axles (0: not recorded), the gear on it and what of that is isolated;
    road_litres: its road fill, None where there is none on record."""

    litres: int
    drive_axles: int
    gear: frozenset[str]
    isolated: frozenset[str] = frozenset()
    road_litres: int | None = None


@dataclass(frozen=True)
class Lack:
    """One thing asked for that a cart does not have. is_near: it may do all the same, if the caller agrees."""

    kind: str
    what: str
    is_near: bool = False


def lacks(enquiry: Enquiry | Needs, build: Build, *, names: dict[str, str]) -> list[Lack]:
    """What the cart lacks, in words; `names`: gear kind to its screen name."""
    found = []
    short = enquiry.litres - build.litres
    if short > 0:
        near = build.litres >= enquiry.litres * NEAR
        found.append(Lack("litres", f"{short:,} L less than asked", near))
    if enquiry.road_litres:
        found += _road_lack(enquiry.road_litres, build.road_litres)
    for kind in sorted(enquiry.gear, key=lambda one: names[one]):
        if kind not in build.gear:
            found.append(Lack("gear", f"no {names[kind].lower()}"))
        elif kind in build.isolated:
            found.append(Lack("gear", f"its {names[kind].lower()} is isolated", is_near=True))
    if enquiry.drive_axles and build.drive_axles != enquiry.drive_axles:
        found.append(Lack("drive", DRIVEN.get(build.drive_axles, f"{build.drive_axles} driven axles")))
    return found


def _road_lack(asked: int, has: int | None) -> list[Lack]:
    """A cart without a road fill on record is not offered for one: nobody knows what it may carry."""
    if has is None:
        return [Lack("road_litres", "no road fill on record")]
    if has >= asked:
        return []
    return [Lack("road_litres", f"{asked - has:,} L less than asked on the road", has >= asked * NEAR)]


def needs_words(needs: Enquiry | Needs, *, names: dict[str, str]) -> list[str]:
    """What a cart must be, each thing in words: "18,000 L", "cannon", "two driven axles"."""
    words = [f"{needs.litres:,} L"] if needs.litres else []
    words += [f"{needs.road_litres:,} L on the road"] if needs.road_litres else []
    words += [names[kind].lower() for kind in sorted(needs.gear, key=lambda one: names[one])]
    return words + ([DRIVEN[needs.drive_axles]] if needs.drive_axles else [])


def asked_words(enquiry: Enquiry, *, names: dict[str, str]) -> str:
    """What is asked of a cart, in words: "18,000 L, cannon, two driven axles, potable water"."""
    words = needs_words(enquiry, names=names)
    words += ["potable water"] if enquiry.is_potable else []
    words += [f"wet hire{BY_SHIFT[enquiry.shift]}"] if enquiry.is_wet else []
    return ", ".join(words) or "any cart"


def more_words(enquiry: Enquiry, build: Build, *, offered: frozenset[str], names: dict[str, str]) -> str:
    """What the cart has that `excess` counts, in words: "3,000 L, cannon"; "" where it is the least that does the work."""
    over_l = build.litres - enquiry.litres if enquiry.litres else 0
    extra = sorted(names[kind].lower() for kind in (build.gear & offered) - enquiry.gear)
    return ", ".join(([f"{over_l:,} L"] if over_l > 0 else []) + extra)


def excess(enquiry: Enquiry, build: Build, *, offered: frozenset[str], falls_due: int) -> float:
    """How much more than asked a cart is, lower first: its litres above, gear of the kinds callers ask for (`offered`) that
    nobody asked for, and what falls due while it is out."""
    over_l = max(0, build.litres - enquiry.litres) if enquiry.litres else 0
    extra = len((build.gear & offered) - enquiry.gear)
    return over_l / LITRES_STEP + extra * PER_GEAR + falls_due * PER_DUE
