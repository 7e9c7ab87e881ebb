"""May a cart's tank carry drinking water? The rule, from what the tank has carried and how it was sanitised.

Councils that license water carriers let a drinking-water tank carry nothing else, recycled water included (SF-09,
VERIFIED-P), so "dedicated only" is the default. Bore and dam after a sanitise and a passed test is a yard's own choice
(common practice, no source) where local health rules allow it. What no cleaning makes good is never passed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

SOURCES: dict[str, str] = {
    "potable": "Potable water",
    "bore": "Bore water",
    "dam": "Dam water",
    "recycled": "Recycled water",
    "effluent": "Effluent",
    "mine_affected": "Mine-affected water",
    "leachate": "Leachate",
    "fire_foam": "Fire foam",
    "binder": "Dust binder",
}
# Nobody told what it was; never a choice of a form.
UNKNOWN = "unknown"
# What a sanitise and a test make good, where the yard allows it. Anything else but potable never.
MADE_GOOD = frozenset({"bore", "dam"})

MAY, AFTER, NEVER = "may", "after sanitising", "never"


@dataclass(frozen=True)
class Carried:
    """Water that counts. `on` is the yard's day of `at`; told: where and how often, where a hire tells it and not a fill of the
    yard ("on hire H2026-00031, 14 loads from 12 Nov")."""

    source: str
    at: datetime
    on: date
    told: str = ""


@dataclass(frozen=True)
class Sanitised:
    """A sanitising that counts. `passed` None: no test of it is on record."""

    at: datetime
    on: date
    by: str
    passed: bool | None


@dataclass(frozen=True)
class Standing:
    """`verdict` is "may", "after sanitising" or "never"; `sentence` says why, `clear_words` who can change it; `rests_on` is
    what on record decided, empty where something is missing from the record. filled_at: the newest fill on record that no
    sanitising followed."""

    verdict: str
    sentence: str
    clear_words: str = ""
    rests_on: tuple[Carried | Sanitised, ...] = ()
    filled_at: datetime | None = None


def _day(on: date) -> str:
    return f"{on.day} {on:%b %Y}"


OTHER_CART = "Hire desk: choose a cart whose tank has carried potable water alone"
SANITISE = "The yard or workshop: sanitise the tank, have the water tested, and record both"
TELL = "The hire desk or the yard: tell what it carried on that hire, on its page"


def potable_standing(
    history: Iterable[Carried],
    sanitised: Iterable[Sanitised],
    *,
    dedicated_only: bool,
    has_potable_tank: bool,
) -> Standing:
    """Whether the tank may carry drinking water as the record stands, in any order of rows.

    history: fills not struck out; the latest of each source is enough. sanitised: those not struck out; the newest decides,
    and only one later than every fill that was not potable, with a passed test, counts. No fill on record is not a clean
    tank: it is "never" until somebody records what it has carried. A source this rule does not know is never made good; what
    nobody told (UNKNOWN) stands no better than bore or dam.
    """
    if not has_potable_tank:
        return Standing(NEVER, "No potable tank is fitted.", "Hire desk: choose a cart with a potable tank")
    newest_first = sorted(history, key=lambda fill: fill.at, reverse=True)
    if not newest_first:
        return Standing(
            NEVER, "No water history on record.", "The yard or workshop: record what the tank has carried"
        )
    others = [fill for fill in newest_first if fill.source != "potable"]
    for fill in others:
        if fill.source not in MADE_GOOD and fill.source != UNKNOWN:
            return Standing(
                NEVER, f"{_carried(fill)}: it never carries drinking water again.", OTHER_CART, (fill,)
            )
    if others and dedicated_only:
        # What is known decides first: telling the rest would change nothing.
        fill = next((one for one in others if one.source != UNKNOWN), others[0])
        sentence = f"{_carried(fill)}, and the yard keeps drinking-water tanks for potable water alone."
        return Standing(NEVER, sentence, TELL if fill.source == UNKNOWN else OTHER_CART, (fill,))
    return _after(others[0] if others else None, max(sanitised, key=lambda one: one.at, default=None))


def _carried(fill: Carried) -> str:
    where = fill.told or f"on {_day(fill.on)}"
    if fill.source == UNKNOWN:
        return f"Nobody told what the tank carried {where}"
    return f"The tank carried {SOURCES.get(fill.source, fill.source).lower()} {where}"


def _after(spoilt: Carried | None, newest: Sanitised | None) -> Standing:
    """What the newest sanitising makes of a tank that carried nothing worse than bore or dam, last at `spoilt`."""
    if spoilt is not None and (newest is None or newest.at <= spoilt.at):
        is_told = spoilt.source != UNKNOWN
        sentence = f"{_carried(spoilt)}{' and' if is_told else ', and it'} has not been sanitised since."
        clear_words = SANITISE if is_told else f"{TELL}. {SANITISE}"
        return Standing(AFTER, sentence, clear_words, (spoilt, newest) if newest else (spoilt,))
    if newest is None:
        return Standing(AFTER, "No sanitising of the tank is on record.", SANITISE)
    rests_on = (spoilt, newest) if spoilt else (newest,)
    done = f"{_day(newest.on)} by {newest.by}"
    if newest.passed is None:
        words = "The yard or workshop: record the test of its water"
        return Standing(AFTER, f"Sanitised {done}; no test of its water is on record.", words, rests_on)
    if not newest.passed:
        return Standing(AFTER, f"Sanitised {done}, and the test of its water failed.", SANITISE, rests_on)
    sentence = f"Last sanitised {done}; nothing but potable water on record since."
    return Standing(MAY, sentence, rests_on=rests_on)


# By what word a place tells what water is there: "Callabar dam", but not "standpipe, Dam Road".
_NAMES = {
    "dam": "dam",
    "bore": "bore",
    "recycled": "recycled",
    "effluent": "effluent",
    "leachate": "leachate",
    "foam": "fire_foam",
    "binder": "binder",
}
_NAMED = re.compile(
    rf"\b({'|'.join(_NAMES)})s?\b(?!\s+(?:road|rd|street|st|lane|drive|avenue|track)\b)", re.IGNORECASE
)


def named_in(words: str) -> str:
    """The water that the words of a fill point name, the one no cleaning makes good before the others; "" for none."""
    found = {_NAMES[one.lower()] for one in _NAMED.findall(words)}
    return min(found, key=lambda source: (source in MADE_GOOD, source), default="")


def is_unlike(source: str, words: str) -> bool:
    """Whether a place names water that is not potable, and the water is said to be."""
    return source == "potable" and bool(named_in(words))


def days_stood(filled_at: datetime | None, *, at: datetime, most_days: int) -> int | None:
    """For how many whole days water has stood in a tank, where that is longer than the yard lets it; else None."""
    days = (at - filled_at).days if filled_at else 0
    return days if days >= most_days and days > 0 else None


def stood_words(on: date, days: int) -> str:
    """Said of a loaded tank that stood; how long is too long is common practice, no source."""
    return (
        f"Last filled on {_day(on)}, {days} day{'' if days == 1 else 's'} ago, as far as is on record. Where that water is still "
        "in the tank, let it out, flush the tank and fill it fresh before anybody drinks of it."
    )
