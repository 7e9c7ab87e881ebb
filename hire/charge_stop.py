"""When an off-hire call stops the charge. Common practice, no source: the hour is the yard's own setting."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo


def charge_stops_at(called_at: datetime, *, cut_off: time, zone: ZoneInfo) -> datetime:
    """The instant that stops the charge: the call itself before the day's cut-off, else the cut-off of the next day, so that
    a late call costs one day more and never two. A call at the cut-off to the minute is late."""
    local = called_at.astimezone(zone)
    if local.time() < cut_off:
        return called_at.astimezone(UTC)
    return datetime.combine(local.date() + timedelta(days=1), cut_off, zone).astimezone(UTC)


def hour_words(hour: time) -> str:
    """A time of day as it is spoken of: "2.00 pm"; noon in words, since 12 pm is read both ways."""
    if hour == time(12):
        return "12 noon"
    return f"{hour.hour % 12 or 12}.{hour.minute:02d} {'am' if hour.hour < 12 else 'pm'}"


def cut_off_words(cut_off: time) -> str:
    """The rule as the desk and the customer read it."""
    hour = hour_words(cut_off)
    return f"Before {hour} the charge stops with the call; from {hour} on, at {hour} the next day."
