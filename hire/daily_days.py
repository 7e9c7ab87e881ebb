"""Which days of a wet hire have no daily docket. Pure."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

DAY, NIGHT = "day", "night"


def days_without(
    *,
    first: date,
    last: date,
    in_week: int,
    shifts_a_day: int,
    off: Collection[date],
    have: Collection[tuple[date, bool]],
) -> list[tuple[date, str]]:
    """The days from `first` to `last`, both among them, that are of the week (so many days from Monday on), not off (stood down, or
    a public holiday), and have no docket; with two shifts a day each shift wants its own. have: (day, is it a night docket). Each
    with "", or "day" or "night" where there are two shifts."""
    found = []
    for n in range((last - first).days + 1):
        on = first + timedelta(days=n)
        if on.weekday() >= in_week or on in off:
            continue
        if shifts_a_day == 1:
            if (on, False) not in have and (on, True) not in have:
                found.append((on, ""))
            continue
        found += [
            (on, words) for words, is_night in ((DAY, False), (NIGHT, True)) if (on, is_night) not in have
        ]
    return found
