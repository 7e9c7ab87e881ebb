"""When an off-hire call stops the charge, and when damage is no longer the hirer's. Common practice, no source: the hour and the
rule are the yard's own settings, the hours are agreed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

ONE_DAY = timedelta(days=1)
# A yard that is never open would be looked for without end.
LOOK_AHEAD_DAYS = 60


def charge_stops_at(
    called_at: datetime, *, cut_off: time, zone: ZoneInfo, is_closed: Callable[[date], bool] | None = None
) -> datetime:
    """The instant that stops the charge: the call itself before the day's cut-off, else the cut-off of the next day, so that
    a late call costs one day more and never two. A call at the cut-off to the minute is late.

    is_closed: None where every day counts alike. Else a call on a closed day is a late one too, and a late one counts from the
    cut-off of the next day the yard is open. ValueError for a yard that does not open within 60 days.
    """
    local = called_at.astimezone(zone)
    on = local.date()
    if local.time() < cut_off and not (is_closed and is_closed(on)):
        return called_at.astimezone(UTC)
    for _ in range(LOOK_AHEAD_DAYS):
        on += ONE_DAY
        if is_closed is None or not is_closed(on):
            return datetime.combine(on, cut_off, zone).astimezone(UTC)
    raise ValueError("The yard does not open within 60 days of the call: correct its closed days.")


def risk_ends_at(called_at: datetime, *, hours: int) -> datetime:
    """When damage is no longer the hirer's though nobody has picked the cart up: so many hours after the call, by the clock that
    runs on over a change to summer time."""
    return called_at.astimezone(UTC) + timedelta(hours=hours)


def risk_words(hours: int | None) -> str:
    """Until when damage is the hirer's once it is called off, as it is agreed. None: nothing but the pick-up ends it."""
    if hours is None:
        return "until it is picked up"
    return f"until it is picked up, at the latest {hours} {'hour' if hours == 1 else 'hours'} after the call"


def hour_words(hour: time) -> str:
    """A time of day as it is spoken of: "2.00 pm"; noon in words, since 12 pm is read both ways."""
    if hour == time(12):
        return "12 noon"
    return f"{hour.hour % 12 or 12}.{hour.minute:02d} {'am' if hour.hour < 12 else 'pm'}"


def cut_off_words(cut_off: time, *, counts_closed: bool = False, place: str = "") -> str:
    """The rule as the desk and the customer read it. place: whose clock it goes by, where that is not the yard's."""
    hour = f"{hour_words(cut_off)}{f', {place} time,' if place else ''}"
    if counts_closed:
        return (
            f"Before {hour} on a day the yard is open the charge stops with the call; from {hour} on, or on a day the yard is"
            f" closed, at {hour} the next day it is open."
        )
    return f"Before {hour} the charge stops with the call; from {hour} on, at {hour} the next day."
