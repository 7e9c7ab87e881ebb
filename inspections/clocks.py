"""A tablet's clock against the yard's. `offset` is the yard's clock less the tablet's, as the tablet last knew it."""

from __future__ import annotations

from datetime import datetime, timedelta

# A clock this far out is worth telling: common practice, no source.
FLAGGED_OVER = timedelta(minutes=5)


def put_right(moment: datetime, *, offset: timedelta, not_after: datetime) -> datetime:
    """A moment of the tablet's clock by the yard's, never later than `not_after`: nothing is done after it arrived."""
    try:
        return min(moment + offset, not_after)
    except OverflowError:
        return not_after


def is_flagged(offset: timedelta) -> bool:
    return abs(offset) > FLAGGED_OVER
