"""The readiness sentence: every cart, everywhere, in one sentence of words, worst thing first, with when it changes."""

from __future__ import annotations

import re
from datetime import datetime

from fleet.readiness import Readiness
from people.clock import shown_day, shown_zone, zone_mark

# How a walk that is wanted before a cart leaves is settled, where signing it is not what is wanted.
DONE = {"walk_round.name": "confirmed", "walk_round.acceptance": "accepted", "walk_round.meters": "taken"}
# Not something that falls due: the cart has to come back before it can leave.
OUT = "hire.out"


def day_words(moment: datetime, *, at: datetime) -> str:
    """A near day by its name, a far one by its date: "today", "tomorrow", "Thursday", "Thu 4 Dec"."""
    day, today = shown_day(moment), shown_day(at)
    away = (day - today).days
    if away == 0:
        return "today"
    if away == 1:
        return "tomorrow"
    if 1 < away < 7:
        return f"{day:%A}"
    return f"{day:%a} {day.day} {day:%b}" + (f" {day.year}" if day.year != today.year else "")


def clock_words(moment: datetime) -> str:
    """Local clock time, "5.30 am"; "12 noon" and "12 midnight", since 12 am is read both ways. By people.clock: of a hire that
    works in another zone, "2.30 am AWST"."""
    local, mark = moment.astimezone(shown_zone()), zone_mark(moment)
    if local.minute == 0 and local.hour % 12 == 0:
        return f"{'12 noon' if local.hour else '12 midnight'}{mark}"
    return f"{local.hour % 12 or 12}.{local.minute:02d} {'am' if local.hour < 12 else 'pm'}{mark}"


def source_words(source: str) -> str:
    """A rule's source as a reader knows it, without the row it has in our own table of facts."""
    return re.sub(r"^[A-Z]{2}-\d{2}[,:]? +", "", source)


def moment_words(moment: datetime, *, at: datetime) -> str:
    return f"{day_words(moment, at=at)} {clock_words(moment)}"


def past_words(moment: datetime, *, at: datetime) -> str:
    """A moment that has passed: "today 5.30 am", "yesterday 4.00 pm", "Thu 4 Dec 4.00 pm"."""
    away = (shown_day(at) - shown_day(moment)).days
    return f"{'yesterday' if away == 1 else day_words(moment, at=at)} {clock_words(moment)}"


def readiness_sentence(answer: Readiness) -> str:
    """One sentence for a cart. A held cart says its worst blocker and how many more there are."""
    if answer.blockers:
        worst, more = answer.blockers[0], len(answer.blockers) - 1
        rest = "" if not more else f" And {more} more." if more > 1 else " And one more."
        return f"Held: {worst.sentence}{rest}"
    lead = "Ready"
    if answer.limits:
        lead = "Goes with limits: " + " ".join(limit.sentence for limit in answer.limits)
    elif answer.passed:
        lead = f"Goes by authority: {answer.passed[0].blocker.sentence}"
    dated = [caution for caution in answer.cautions if caution.due_at is not None]
    if not dated:
        return lead if lead.endswith(".") else f"{lead}."
    first = dated[0]
    when = first.due_at
    assert when is not None
    if first.code.startswith("walk_round."):
        by = moment_words(when, at=answer.at)
        done = DONE.get(first.code, "signed")
        end = f"once its {first.short} is {done}, by {by}."
        return f"Ready {end}" if lead == "Ready" else f"{lead.rstrip('.')}. Leaves {end}"
    until = day_words(max(when, answer.at), at=answer.at)
    if first.code == OUT:
        end = f"once it is back, expected {moment_words(when, at=answer.at)}."
        return f"Ready {end}" if lead == "Ready" else f"{lead.rstrip('.')}. Leaves {end}"
    if lead == "Ready":
        return f"Ready until {until}, then {first.short}."
    return f"{lead.rstrip('.')}. Until {until}, then {first.short}."
