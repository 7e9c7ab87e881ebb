"""Until when a pre-hire check is good: hours the yard is closed add to it, up to a most. docs/good-until.md."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

DAY = timedelta(days=1)


def good_until(
    signed_at: datetime,
    *,
    good: timedelta,
    most: timedelta,
    zone: ZoneInfo,
    is_closed: Callable[[date], bool],
) -> datetime:
    """The instant, in UTC, at which a check signed at `signed_at` (aware) is good no more: once `good` hours of days the yard is
    open have gone by, and `most` after it was signed at the latest.

    Hours are elapsed ones: a day of a clock change has 23 or 25. zone: whose days they are. A `most` that is no more than `good`
    adds nothing. Common practice, no source.
    """
    moment = signed_at.astimezone(UTC)
    left, end = good, moment + max(good, most)
    while moment < end:
        on = moment.astimezone(zone).date()
        until = min(datetime.combine(on + DAY, time.min, zone).astimezone(UTC), end)
        if not is_closed(on):
            if left <= until - moment:
                return moment + left
            left -= until - moment
        moment = until
    return end


def days_closed(
    start: datetime, end: datetime, *, zone: ZoneInfo, is_closed: Callable[[date], bool]
) -> list[date]:
    """The days the yard is closed on which any part of the half-open span lies, in order."""
    on, found = start.astimezone(zone).date(), []
    while datetime.combine(on, time.min, zone) < end:
        if is_closed(on):
            found.append(on)
        on += DAY
    return found
