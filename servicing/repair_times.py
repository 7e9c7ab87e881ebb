"""How long a repair is expected to take, from this fleet's own repairs of the same check.

A check belongs to one kind of gear at one place, so its key says both. While there is little history, what is usual in
the trade counts as PRIOR_COUNTS_AS repairs more (common practice, no source); with every repair of its own the fleet's
middle counts for more. It is no promise and no reason to hurry: the maker's manual and the fitter decide how long a job takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median, quantiles

PRIOR_COUNTS_AS = 5
# A clock left running over night, or a job that lay over the weekend, counts as one working day and no more.
WORKING_DAY = timedelta(hours=8)
# The middle half of fewer repairs than this says nothing.
SPREAD_FROM = 4


@dataclass(frozen=True)
class RepairEstimate:
    """expected: the shrunk median. repairs: how many stand behind it. low, high: the middle half; None under SPREAD_FROM."""

    expected: timedelta
    repairs: int
    low: timedelta | None
    high: timedelta | None


def time_taken(stretches: Iterable[tuple[datetime, datetime]]) -> timedelta:
    """What a job took: the sum of its stretches [start, end), each at most one working day. ValueError for an end before
    its start."""
    taken = timedelta(0)
    for start, end in stretches:
        if end < start:
            raise ValueError("A stretch of work ends before it starts.")
        taken += min(end - start, WORKING_DAY)
    return taken


def estimate(*, taken: Sequence[timedelta], prior: timedelta) -> RepairEstimate:
    """The expected repair time: (n x median + 5 x prior) / (n + 5) for n repairs; the prior alone for none. Not rounded.

    taken: what each past repair took, any order. ValueError for a time of nothing or less.
    """
    if prior <= timedelta(0) or any(one <= timedelta(0) for one in taken):
        raise ValueError("A repair takes some time.")
    count = len(taken)
    if not count:
        return RepairEstimate(prior, 0, None, None)
    seconds = [one.total_seconds() for one in taken]
    middle = timedelta(seconds=median(seconds))
    expected = (middle * count + prior * PRIOR_COUNTS_AS) / (count + PRIOR_COUNTS_AS)
    if count < SPREAD_FROM:
        return RepairEstimate(expected, count, None, None)
    low, _, high = quantiles(seconds, n=4, method="inclusive")
    return RepairEstimate(expected, count, timedelta(seconds=low), timedelta(seconds=high))
