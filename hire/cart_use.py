"""What the meters of a cart say of a time: that it stood, or that it was used. Pure.

Nobody guesses. What cannot be told is neither.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import groupby, pairwise
from types import MappingProxyType

ENGINE, PUMP, KM = "engine_hours", "pump_hours", "km"
# A meter that gained no more is unmoved: the engine was started, or the cart put aside. Common practice, no source.
UNMOVED: Mapping[str, Decimal] = MappingProxyType(
    {ENGINE: Decimal("0.5"), PUMP: Decimal("0.5"), KM: Decimal(5)}
)
# A meter shows tenths, cut off.
SHOWN_TO = Decimal("0.1")
# No loaded cart keeps this up. Common practice, no source.
KM_PER_HOUR_MOST = Decimal(100)
WORDS = {ENGINE: "engine hours", PUMP: "pump hours", KM: "odometer"}


@dataclass(frozen=True, slots=True)
class Read:
    """What one meter showed. meter: which; two of a kind are two meters. kind: "engine_hours", "pump_hours" or "km"."""

    meter: str
    kind: str
    at: datetime
    value: Decimal


@dataclass(frozen=True, slots=True)
class Span:
    """A half-open time. known_from: a reading from then on tells of it so far, where none came after its end."""

    starts_at: datetime
    ends_at: datetime
    known_from: datetime

    def shared(self, since: datetime, until: datetime) -> timedelta:
        return max(min(self.ends_at, until) - max(self.starts_at, since), timedelta(0))


def _of_each(reads: Iterable[Read]) -> Iterator[list[Read]]:
    """The readings of each meter in their order."""
    in_order = sorted(reads, key=lambda one: (one.meter, one.at, one.value))
    for _, found in groupby(in_order, key=lambda one: one.meter):
        yield list(found)


def stood(reads: Iterable[Read], span: Span) -> bool:
    """Whether it is proven that the cart stood: its engine hours are unmoved from the last reading before to the first one
    after, and no other meter read on both sides moved."""
    told = set()
    for of_one in _of_each(reads):
        before = next((one for one in reversed(of_one) if one.at <= span.starts_at), None)
        after = next((one for one in of_one if one.at >= span.ends_at), None) or next(
            (one for one in reversed(of_one) if one.at >= span.known_from), None
        )
        if before is None or after is None:
            continue
        if after.value - before.value > UNMOVED[after.kind]:
            return False
        told.add(after.kind)
    return ENGINE in told


def used(reads: Iterable[Read], free: Sequence[Span]) -> dict[Span, str]:
    """Of these spans, which nothing else explains the use of, those in which the cart was used for certain, with what says so: a
    meter gained more from one reading to the next than there was time for outside them. Where it lay in several, the one it lay
    in longest stands for it, the earlier of two."""
    found: dict[Span, str] = {}
    for of_one in _of_each(reads):
        for one, other in pairwise(of_one):
            gain, whole = other.value - one.value, other.at - one.at
            needs = _least(one.kind, gain)
            open_ones = [span for span in free if span not in found and span.shared(one.at, other.at)]
            elsewhere = whole - sum((span.shared(one.at, other.at) for span in open_ones), timedelta(0))
            if open_ones and gain > UNMOVED[one.kind] and elsewhere < needs <= whole:
                found[_longest(open_ones, one.at, other.at)] = f"its {WORDS[one.kind]} rose by {gain}"
    return found


def _longest(spans: Sequence[Span], since: datetime, until: datetime) -> Span:
    earliest_first = sorted(spans, key=lambda span: span.starts_at)
    return max(earliest_first, key=lambda span: span.shared(since, until))


def _least(kind: str, gain: Decimal) -> timedelta:
    """The least time in which a meter gains so much."""
    hours = gain / KM_PER_HOUR_MOST if kind == KM else gain - SHOWN_TO
    return timedelta(hours=float(hours))
