"""Signs that show only over many walk-rounds: readings that stay, readings that are always round, and how often something
is found. Each is set beside what the same carts gave others, or what their meters did."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import TypeVar

from inspections.chance import Comparison, Group, binomial_at_least, compare, odds_words
from inspections.derived import number_or_none
from inspections.sign_rules import Rules
from inspections.walk_facts import EarlierWalk, Evidence, History, MeterPoint, Reading, Sign, Walk

# By unit: a figure that is a multiple of this is round, where the instrument shows ten steps to it, or five. Pressures are
# left out: the marks of their gauges are round themselves.
ROUND_STEP: Mapping[str, Decimal] = MappingProxyType(
    {
        "mm": Decimal("0.5"),
        "s": Decimal(5),
        "V": Decimal("0.5"),
        "h": Decimal(1),
        "km": Decimal(10),
        "% of rated": Decimal(5),
    }
)
LAST_FIGURE = Fraction(1, 10)
# What is entered may be any run of figures; one this long is a slip, and says nothing of rounding.
NO_GAUGE_SHOWS = Decimal(10) ** 9
# Full again every morning is what the yard wants.
MAY_STAY = frozenset({"eighths"})
SHOWN_MOST = 6
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class _Followed:
    """A reading followed over its last walk-rounds, and what the meters did meanwhile."""

    words: str
    value: str
    km: Decimal
    engine_hours: Decimal
    days: int


def _own_readings(walk: Walk) -> Iterator[Reading]:
    """The measured looks of the walk-round as readings."""
    for look in walk.looks:
        if look.unit and look.value:
            yield Reading(
                walk.id, walk.cart, walk.author, look.check, look.place, look.value, look.unit, look.meter, walk.signed_at
            )  # fmt: skip


def still_sign(walk: Walk, history: History, rules: Rules) -> Sign | None:
    """Many readings of the cart that have not changed over several walk-rounds while its meters moved on."""
    earlier: defaultdict[tuple[str, str], list[Reading]] = defaultdict(list)
    for reading in history.readings:
        if reading.cart == walk.cart:
            earlier[reading.check, reading.place].append(reading)
    followed = [
        (one, stayed)
        for one, stayed in _follow(walk, earlier, history.meters, rules)
        if one.km >= rules.still_km or one.engine_hours >= rules.still_hours
    ]
    still = [one for one, stayed in followed if stayed]
    if len(still) < max(rules.still_least, math.ceil(rules.still_share * len(followed))):
        return None
    km, hours = min(one.km for one in still), min(one.engine_hours for one in still)
    moved = [("The odometer rose", f"{km:,.0f} km")] if km else []
    moved += [("The engine hours rose", f"{hours:,.0f} h")] if hours else []
    shown = [(one.words, f"{one.value}, {rules.still_walks} times") for one in still[:SHOWN_MOST]]
    more = [("And", f"{len(still) - SHOWN_MOST} more")] if len(still) > SHOWN_MOST else []
    return Sign(
        "still",
        f"Were these measured this time? {len(still)} of {len(followed)} readings are what they were on the "
        f"{rules.still_walks - 1} walk-rounds before, while the cart worked on.",
        (*moved, ("Over at least", f"{min(one.days for one in still)} days"), *shown, *more),
    )


def _follow(
    walk: Walk,
    earlier: Mapping[tuple[str, str], list[Reading]],
    meters: Sequence[MeterPoint],
    rules: Rules,
) -> Iterator[tuple[_Followed, bool]]:
    """Each reading of the walk-round that was taken often enough before, and whether it stayed the same throughout."""
    for look in walk.looks:
        now = number_or_none(look.value)
        if not look.unit or not now or look.unit in MAY_STAY or look.meter:
            continue
        readings = sorted(earlier.get((look.check, look.place), ()), key=lambda one: one.read_at)
        before = readings[1 - rules.still_walks :]
        if len(before) < rules.still_walks - 1:
            continue
        since = before[0].read_at
        where = f"{look.title}, {look.place}" if look.place else look.title
        yield (
            _Followed(
                words=where,
                value=f"{look.value} {look.unit}",
                km=risen(meters, "km", since, walk.signed_at),
                engine_hours=risen(meters, "engine_hours", since, walk.signed_at),
                days=(walk.signed_at - since).days,
            ),
            all(number_or_none(one.value) == now for one in before),
        )


def risen(meters: Iterable[MeterPoint], kind: str, since: datetime, until: datetime) -> Decimal:
    """How far the meters of a kind are known to have risen between two instants, both included: never more than they did.
    A meter changed in between is counted up to its last reading and from its successor's first."""
    seen: defaultdict[str, list[Decimal]] = defaultdict(list)
    for point in meters:
        if point.kind == kind and since <= point.read_at <= until:
            seen[point.meter].append(point.value)
    return sum((max(values) - min(values) for values in seen.values()), Decimal(0))


def round_sign(walk: Walk, history: History, rules: Rules) -> Sign | None:
    """Readings that nearly always end in a round figure where others', of the same things, do not."""
    if not walk.author:
        return None
    readings = [*history.readings, *_own_readings(walk)]
    judged = [(one, is_round) for one in _once(readings) if (is_round := is_round_figure(one)) is not None]
    beside = compare(
        _groups(walk.author, judged, key=lambda one: (one.cart, one.check), by=lambda one: one.author),
        outside=float(rules.chance),
    )
    if min(beside.tries, beside.other_tries) >= rules.round_least:
        often = beside.hits >= rules.round_share * beside.tries
        return _round_beside_others(walk, beside) if often and beside.at_least < rules.chance else None
    return _round_odometer(walk, judged, rules)


def _once(readings: Iterable[Reading]) -> Iterable[Reading]:
    return {(one.walk, one.check, one.place): one for one in readings}.values()


def is_round_figure(reading: Reading) -> bool | None:
    """Whether a reading is a round figure. None where that says nothing: no number, nought, or a unit with coarse marks."""
    step, number = ROUND_STEP.get(reading.unit), number_or_none(reading.value)
    if step is None or not number or abs(number) >= NO_GAUGE_SHOWS:
        return None
    return number % step == 0


def _round_beside_others(walk: Walk, beside: Comparison) -> Sign:
    return Sign(
        "round",
        f"Were these read off, or rounded? {beside.hits} of {beside.tries} readings by {walk.author_name} are round "
        f"figures; others’, of the same things, {beside.other_hits} of {beside.other_tries}.",
        _beside(walk, beside, of="readings are round", so="So many or more, by chance alone", chance=beside.at_least),
    )  # fmt: skip


def _round_odometer(walk: Walk, judged: Iterable[tuple[Reading, bool]], rules: Rules) -> Sign | None:
    own = [is_round for one, is_round in judged if one.author == walk.author and one.meter == "km"]
    if len(own) < rules.round_least or sum(own) < rules.round_share * len(own):
        return None
    chance = binomial_at_least(sum(own), len(own), LAST_FIGURE)
    if chance >= rules.chance:
        return None
    return Sign(
        "round",
        f"Were these read off, or rounded? {sum(own)} of {len(own)} odometer readings by {walk.author_name} end in 0; one in "
        "ten does.",
        (
            (walk.author_name, f"{sum(own)} of {len(own)} odometer readings end in 0"),
            ("Others", "have read too little of the same carts to compare"),
            ("So many or more, by chance alone", odds_words(chance)),
        ),
    )


def rate_sign(walk: Walk, history: History, rules: Rules) -> Sign | None:
    """How often this person's walk-rounds tell of something new, far from how often others' do on the same carts and sheets."""
    if not walk.author:
        return None
    walks = [*history.walks, EarlierWalk(walk.cart, walk.purpose, walk.author, walk.told)]
    beside = compare(
        _groups(
            walk.author,
            ((one, one.told) for one in walks),
            key=lambda one: (one.cart, one.purpose),
            by=lambda one: one.author,
        ),
        outside=float(rules.chance),
    )
    if min(beside.tries, beside.other_tries) < rules.rate_least:
        return None
    is_few = beside.at_most < beside.at_least
    chance = min(beside.at_most, beside.at_least)
    if chance >= rules.chance:
        return None
    return Sign(
        "rate",
        f"What makes the difference? {beside.hits} of {beside.tries} walk-rounds by {walk.author_name} told of something new; "
        f"of others’, on the same carts and sheets, {beside.other_hits} of {beside.other_tries}.",
        _beside(
            walk, beside, of="walk-rounds told of something new",
            so=f"So {'few or fewer' if is_few else 'many or more'}, by chance alone", chance=chance,
        ),
    )  # fmt: skip


def _beside(walk: Walk, beside: Comparison, *, of: str, so: str, chance: float) -> Evidence:
    return (
        (walk.author_name, f"{beside.hits} of {beside.tries} {of}"),
        ("Others, on the same", f"{beside.other_hits} of {beside.other_tries}"),
        ("Chance alone would give", f"about {beside.expected:.1f}, and keeps to {beside.low} to {beside.high}"),
        (so, odds_words(chance)),
    )  # fmt: skip


def _groups(
    author: str,
    tries: Iterable[tuple[T, bool]],
    *,
    key: Callable[[T], tuple[str, str]],
    by: Callable[[T], str],
) -> Iterator[Group]:
    """The person's tries beside the others', each kind apart."""
    counts: defaultdict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for one, is_hit in tries:
        count, side = counts[key(one)], 0 if by(one) == author else 2
        count[side] += is_hit
        count[side + 1] += 1
    for hits, own, other_hits, others in counts.values():
        yield Group(hits, own, other_hits, others)
