"""Counting the yard's working days: those of its week, less the days it is shut."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

LONGEST = 366


def _shift(on: date, days: int, step: int, working: Collection[int], closed: Collection[date]) -> date:
    if days < 0:
        raise ValueError("Working days are not below zero.")
    left = days
    for _ in range(LONGEST):
        if not left:
            return on
        on += timedelta(days=step)
        left -= on.weekday() in working and on not in closed
    raise ValueError("The yard has no working days to count.")


def days_before(on: date, days: int, *, working: Collection[int], closed: Collection[date]) -> date:
    """The day so many working days before `on`; Monday is 0. ValueError below zero, or where no day is worked."""
    return _shift(on, days, -1, working, closed)


def days_after(on: date, days: int, *, working: Collection[int], closed: Collection[date]) -> date:
    """The day so many working days after `on`. ValueError as days_before."""
    return _shift(on, days, 1, working, closed)
