"""Two tyres on one hub: do they carry alike? From depth alone, the overall diameters differ by twice what the depths do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class PairLimit:
    """The most two overall diameters may differ. A pair exactly at it passes."""

    most_mm: float
    as_written: str
    source: str


PAIR_LIMITS: Mapping[str, PairLimit] = MappingProxyType(
    {
        "au": PairLimit(25.0, "25 mm", "TY-23, inspection guidance"),
        "us": PairLimit(12.7, "1/2 in", "TY-25, COMAR 11.14.05.05 (Maryland)"),
        # No British figure was found; the stricter of the published two is used.
        "uk": PairLimit(12.7, "12.7 mm", "common practice, no source"),
    }
)


@dataclass(frozen=True, slots=True)
class TwinTyre:
    """depth_mm: the last believed depth, None: never measured."""

    depth_mm: float | None
    size: str
    make: str


@dataclass(frozen=True, slots=True)
class PairVerdict:
    """difference_mm: of the overall diameters as far as depth tells it; None: depths unknown, or sizes that differ.
    mixed: what is not alike besides, "size" or "make", worst first; empty: alike."""

    difference_mm: float | None
    limit: PairLimit
    mixed: tuple[str, ...]

    @property
    def is_apart(self) -> bool:
        return self.difference_mm is not None and self.difference_mm > self.limit.most_mm


def judge_pair(one: TwinTyre, other: TwinTyre, *, rule_set: str) -> PairVerdict:
    """How a dual pair stands. ValueError for an unknown rule set, or a depth below zero or no number.

    Tyres of one size leave the mould within a little of each other, so this is a reason to measure both diameters, never a
    measurement. Source: TY-23 VERIFIED-S, TY-25 VERIFIED-P, mixed sizes TY-26 VERIFIED-R.
    """
    if rule_set not in PAIR_LIMITS:
        raise ValueError(f"{rule_set!r} is not a rule set: use one of {', '.join(sorted(PAIR_LIMITS))}.")
    for tyre in (one, other):
        if tyre.depth_mm is not None and not 0 <= tyre.depth_mm < math.inf:
            raise ValueError("A depth has to be a number and can't be below zero.")
    mixed = tuple(
        word
        for word, a, b in (("size", one.size, other.size), ("make", one.make, other.make))
        if a.strip().casefold() != b.strip().casefold()
    )
    difference = None
    if one.depth_mm is not None and other.depth_mm is not None and "size" not in mixed:
        # Rounded to a hundredth, since depths are read in tenths and their difference must not miss the limit by a bit.
        difference = round(2 * abs(one.depth_mm - other.depth_mm), 2)
    return PairVerdict(difference, PAIR_LIMITS[rule_set], mixed)


def pair_words(verdict: PairVerdict) -> str:
    """What is wrong with a pair, in sentences; "" when nothing is."""
    said = []
    if verdict.is_apart:
        said.append(
            f"By their depths the two overall diameters differ by {verdict.difference_mm:.1f} mm, more than "
            f"{verdict.limit.as_written}: the larger one carries the load. Measure both diameters."
        )
    if verdict.mixed:
        said.append(
            f"The two are not of one {' or '.join(verdict.mixed)}: make sure that size, construction and diameter match."
        )
    return " ".join(said)
