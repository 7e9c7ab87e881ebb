"""One pass by authority in ready words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.models.standing import Pass
from fleet.passing import rule_words
from people.templatetags.screen import clock_words, day

TIMES = {1: "the first time", 2: "the second time"}


def _when(at: datetime | None) -> str:
    return f"{day(at)}, {clock_words(at)}" if at else ""


def _answered(given: Pass) -> str:
    if given.confirmed_at:
        return f"{_when(given.confirmed_at)}{', late' if given.is_confirmed_late else ''}"
    if given.disowned_at:
        return f"never given, said {_when(given.disowned_at)}"
    return f"not yet; by {_when(given.confirm_by_at)}"


def pass_facts(given: Pass) -> Iterator[tuple[str, str]]:
    """What a pass records, as label and value; what was not said is left out."""
    is_given = given.disowned_at is None
    times = f", passed {TIMES[given.turn]}" if is_given else ""
    yield "Rule", f"{rule_words(given.rule)}{times}"
    yield "Passed by" if is_given else "Named in it", given.given_by.full_name
    if given.spoken_at and given.entered_by:
        yield "By phone", _when(given.spoken_at)
        yield "Entered", f"{_when(given.given_at)}, by {given.entered_by.full_name}"
        yield "Confirmed" if is_given else "Their answer", _answered(given)
    else:
        yield "Given", _when(given.given_at)
    for label, words in (
        ("Second name", given.second_words),
        ("Why", f"{given.reason}: {given.words}"),
        ("On condition", given.condition_words),
        ("Done instead", given.done_instead),
        ("Told", given.told_words),
        ("Good until", f"{_when(given.ends_at)}{f', or {given.ends_event}' if given.ends_event else ''}"),
    ):
        if words:
            yield label, words
    if given.closed_at and given.closed_by:
        yield "Closed", f"{_when(given.closed_at)}, by {given.closed_by.full_name}"
