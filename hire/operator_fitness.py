"""What an operator lacks for a hire: a licence that is too low, a ticket or induction that is not there or lapses. Pure."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import date

LICENCE, INDUCTION = "licence", "induction"
KINDS = {
    LICENCE: "licence",
    "machine": "machine ticket",
    "high_risk": "high-risk work ticket",
    "medical": "medical",
    INDUCTION: "site induction",
}


@dataclass(frozen=True, slots=True)
class Held:
    """One paper of an operator. covers: it is of the class, or for the site, that is asked for. ends_on: its last good day,
    None when it does not lapse; issued_on: None when nobody wrote it down."""

    kind: str
    ends_on: date | None
    issued_on: date | None = None
    covers: bool = True
    words: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """last_day: the last good day of the paper that lapses inside the hire; None when it stops the start of it."""

    kind: str
    sentence: str
    last_day: date | None


def gaps(
    *,
    name: str,
    held: Collection[Held],
    wants: Iterable[str],
    first: date,
    last: date,
    asked: Callable[[str], str] = KINDS.__getitem__,
) -> list[Gap]:
    """What stops an operator who works from the day `first` to the day `last`, both among them, and what lapses between.

    A licence is always asked for; wants: the other kinds. asked: how a kind is said of this hire. ValueError for a day `last`
    before `first`.
    """
    if last < first:
        raise ValueError("The last day comes before the first.")
    kinds = [LICENCE, *(kind for kind in KINDS if kind in wants and kind != LICENCE)]
    found = (_gap(name, kind, held, (first, last), asked(kind)) for kind in kinds)
    return [gap for gap in found if gap is not None]


def _gap(name: str, kind: str, held: Collection[Held], days: tuple[date, date], asked: str) -> Gap | None:
    first, last = days
    of_kind = [one for one in held if one.kind == kind and (one.issued_on is None or one.issued_on <= first)]
    fit = [one for one in of_kind if one.covers]
    if not fit:
        other = next((one.words for one in of_kind if one.words and kind == LICENCE), "")
        beside = f": the one on record is {other}" if other else ""
        return Gap(kind, f"{name} has no {asked} on record{beside}.", None)
    best = max(fit, key=lambda one: one.ends_on or date.max)
    if best.ends_on is None or best.ends_on >= last:
        return None
    if best.ends_on < first:
        return Gap(kind, f"{name}’s {asked} lapsed on {best.ends_on:%-d %b %Y}.", None)
    return Gap(kind, f"{name}’s {asked} lapses after {best.ends_on:%-d %b %Y}.", best.ends_on)
