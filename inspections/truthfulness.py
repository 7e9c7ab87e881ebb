"""Signs that a walk-round was not walked as it was signed. Each is a question with its evidence, never a verdict.

There is often a good reason: a second pair of hands, a gauge with coarse marks, a tablet whose clock was put right. So a
sign blocks nothing, changes no right to go, and is put to a manager, who knows the people and asks.
The figures are the yard's to choose (`Rules`); docs/truthfulness.md has each with what it rests on, and worked cases.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from statistics import median_low

from fleet.photos.likeness import POINTS, distance
from inspections.habits import rate_sign, round_sign, still_sign
from inspections.sign_rules import Rules
from inspections.walk_facts import EarlierShot, History, Look, PickedLook, Shot, Sign, Walk

LOOKED = ("good", "wrong")
ANSWER_SAID = {
    "good": "Good",
    "wrong": "Something’s wrong",
    "not_on_cart": "Not on this cart",
    "could_not_check": "Couldn’t check",
}
CLOCK_SLACK = timedelta(minutes=1)
SHOWN_MOST = 6


def signs(walk_round: Walk, history: History, *, rules: Rules | None = None) -> list[Sign]:
    """The questions a walk-round raises, in a fixed order; none for most.

    Times are judged only where the tablet's clock ran through; else that is the question. ValueError for a number of a
    rule that cannot be.
    """
    rules = rules or Rules()
    clock = _clock(walk_round)
    by_times = [clock] if clock else [_pace(walk_round, rules), _order(walk_round, rules)]
    found = [
        *by_times,
        _photos(walk_round, history, rules),
        _lot(walk_round),
        still_sign(walk_round, history, rules),
        round_sign(walk_round, history, rules),
        rate_sign(walk_round, history, rules),
    ]
    return [sign for sign in found if sign is not None]


def _clock(walk: Walk) -> Sign | None:
    """Times outside the walk itself: the clock was moved, and no span between two looks means anything."""
    first, last = walk.started_at - CLOCK_SLACK, walk.ended_at + CLOCK_SLACK
    outside = [look for look in walk.looks if not first <= look.answered_at <= last]
    if not outside:
        return None
    return Sign(
        "clock",
        "Was the tablet’s clock put right during this walk-round? Its times do not follow one another, so pace and order "
        "are not judged.",
        (
            ("Answers outside the walk-round’s own times", f"{len(outside)} of {len(walk.looks)}"),
            ("Begun, by the tablet", _clock_words(walk.started_at)),
            ("Signed, by the tablet", _clock_words(walk.ended_at)),
        ),
    )


def _pace(walk: Walk, rules: Rules) -> Sign | None:
    """Far quicker than the sheet reckons, or many answers in a row quicker than anybody looks."""
    looked = [look for look in walk.looks if look.answer in LOOKED]
    reckoned = sum((look.minutes for look in looked), Decimal(0))
    run = _quick_run(walk.looks, rules)
    if not looked or (reckoned < rules.pace_least_minutes and len(run) < rules.quick_run):
        return None
    took = max(look.answered_at for look in looked) - min(
        walk.started_at, *(look.answered_at for look in looked)
    )
    is_fast = reckoned >= rules.pace_least_minutes and _minutes(took) < reckoned * rules.pace_share
    if not is_fast and len(run) < rules.quick_run:
        return None
    count = "1 look" if len(looked) == 1 else f"{len(looked)} looks"
    about = f"{count} in {span_words(took)}; the sheet reckons {math.ceil(reckoned)}."
    if not is_fast:
        about = f"{len(run)} answers in a row came within {rules.quick_seconds} seconds of one another."
    evidence = [
        ("Looks taken", f"{len(looked)} of {len(walk.looks)}"),
        ("From beginning to last answer", span_words(took)),
        ("The sheet reckons", f"{math.ceil(reckoned)} minutes"),
    ]
    if len(run) >= rules.quick_run:
        evidence += [
            (f"In a row within {rules.quick_seconds} seconds", f"{len(run)} answers"),
            ("They run", f"from “{run[0].title}” to “{run[-1].title}”"),
        ]
    return Sign("pace", f"Were these looked at one by one? {about}", tuple(evidence))


def _quick_run(looks: Iterable[Look], rules: Rules) -> Sequence[Look]:
    """The longest run of answers, all good, each given within the quick time of the one before."""
    longest: list[Look] = []
    run: list[Look] = []
    for look in sorted(looks, key=lambda look: (look.answered_at, look.number)):
        follows = run and look.answered_at - run[-1].answered_at <= timedelta(
            seconds=float(rules.quick_seconds)
        )
        run = [] if look.answer != "good" else [*run, look] if follows else [look]
        longest = max(longest, run, key=len)
    return longest


@dataclass(frozen=True, slots=True)
class _Stop:
    """One stay of the sheet: where, and when it was answered, by its middle look, so that looks put off do not move it."""

    place: int
    words: str
    at: datetime


def _stops(looks: Iterable[Look]) -> Iterator[_Stop]:
    in_order = sorted(looks, key=lambda look: look.number)
    stays = itertools.groupby(in_order, key=lambda look: (look.walk_pass, look.station))
    for place, ((walk_pass, station), stay) in enumerate(stays):
        at = median_low(look.answered_at for look in stay)
        yield _Stop(place, f"{station} ({walk_pass})", at)


def _order(walk: Walk, rules: Rules) -> Sign | None:
    """Too many stops answered out of the sheet's turn. A stop put off whole counts once; single looks do not count."""
    stops = list(_stops(walk.looks))
    taken = sorted(stops, key=lambda stop: (stop.at, stop.place))
    out_of_turn = len(stops) - _longest_rise([stop.place for stop in taken])
    if out_of_turn < max(rules.order_least, math.ceil(len(stops) * rules.order_share)):
        return None
    return Sign(
        "order",
        f"Was the cart walked another way round? {out_of_turn} of {len(stops)} stops were answered out of the sheet’s turn.",
        (
            ("The sheet’s order (pass)", ", ".join(stop.words for stop in stops)),
            ("As answered", ", ".join(stop.words for stop in taken)),
        ),
    )


def _longest_rise(places: Sequence[int]) -> int:
    """How many of these, left where they are, stand in rising order: the fewest moves put the others right."""
    ends: list[int] = []
    for place in places:
        at = bisect_right(ends, place)
        ends[at : at + 1] = [place]
    return len(ends)


def _photos(walk: Walk, history: History, rules: Rules) -> Sign | None:
    """A photo that is an earlier one again, or the same one at two stations."""
    again: dict[tuple[str, str], str] = {}
    for at, shot in enumerate(walk.shots):
        own = (
            EarlierShot(other.sha256, other.look_alike, f"{other.title}, {other.station}, of this walk-round")
            for other in walk.shots[:at]
            if other.station != shot.station
        )
        for earlier in itertools.chain(history.shots, own):
            how = _alike(shot, earlier, rules)
            if how:
                again.setdefault((shot.sha256, f"{shot.title}, {shot.station}"), f"{earlier.where}: {how}")
    if not again:
        return None
    count = f"{len(again)} of {len(walk.shots)}" if len(walk.shots) > 1 else "It"
    looks = "looks" if len(again) == 1 else "look"
    shown = [(title, words) for (_, title), words in itertools.islice(again.items(), SHOWN_MOST)]
    more = [("And", f"{len(again) - SHOWN_MOST} more")] if len(again) > SHOWN_MOST else []
    return Sign(
        "photo",
        f"Was this photographed afresh? {count} {looks} like a photo the yard had already.",
        (*shown, *more),
    )


def _lot(walk: Walk) -> Sign | None:
    """A look the yard's lot fell on, without its photo. What was not looked at needs none."""
    lot = walk.lot
    if lot is None or not lot.picked:
        return None
    if not lot.is_named:
        return Sign(
            "lot",
            "Was this walked from an old list? The record names no lot, so no look was picked to be photographed.",
            (("The lot, as signed", "none"), ("Photos on this walk-round", str(len(walk.shots)))),
        )
    without = [look for look in lot.picked if look.answer in LOOKED and not look.has_photo]
    if not without:
        return None
    return Sign(
        "lot",
        f"Was there nothing to take a photo with? {len(without)} of {len(lot.picked)} looks picked by lot "
        f"{'has' if len(without) == 1 else 'have'} no photo.",
        tuple((f"{look.title}, {look.where}", _as_signed(look)) for look in lot.picked),
    )


def _as_signed(look: PickedLook) -> str:
    answer = ANSWER_SAID[look.answer]
    said = f"{answer}. {look.words}".strip() if look.words else f"{answer}, nothing said"
    return f"{answer}, with a photo" if look.has_photo else said


def _alike(shot: Shot, earlier: EarlierShot, rules: Rules) -> str:
    """How two photos are one, in words; "" when they are not."""
    if shot.sha256 == earlier.sha256:
        return "the very same file"
    differing = distance(shot.look_alike, earlier.look_alike)
    if differing is None or differing > rules.photo_points:
        return ""
    return f"{differing} of {POINTS} points differ"


def _minutes(span: timedelta) -> Decimal:
    return Decimal(span // timedelta(milliseconds=1)) / 60_000


def span_words(span: timedelta) -> str:
    """A span in whole minutes, never shorter than it was: "40 seconds", "7 minutes"; for a person it errs on their side."""
    seconds = math.ceil(span.total_seconds())
    if seconds <= 60:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    return f"{-(-seconds // 60)} minutes"


def _clock_words(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M:%S} UTC"
