"""By whose clock, holidays and road rules a hire goes: what may be chosen, and its words."""

from __future__ import annotations

from functools import cache
from zoneinfo import available_timezones

from people.refusals import Refusal

# The zones of each rule set's country a yard meets, offered first; any other of the tz database may be typed.
ZONES = {
    "au": (
        "Australia/Perth", "Australia/Darwin", "Australia/Adelaide", "Australia/Brisbane", "Australia/Sydney",
        "Australia/Melbourne", "Australia/Hobart",
    ),
    "us": (
        "America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles", "America/Anchorage",
        "Pacific/Honolulu",
    ),
    "uk": ("Europe/London",),
}  # fmt: skip
RULES_OF = {"au": "Australian", "us": "United States", "uk": "United Kingdom"}


class UnknownZone(Refusal):
    """No time zone goes by that name."""

    field = "time_zone"


class UnknownRegion(Refusal):
    """The calendar of the hire's country has no such region."""

    field = "holiday_region"


@cache
def _zones() -> dict[str, str]:
    return {name.casefold(): name for name in available_timezones()}


def zone_named(text: str) -> str:
    """The zone as the tz database writes it, whatever case and spaces it was typed with. UnknownZone."""
    found = _zones().get("_".join(text.split()).casefold())
    if found is None:
        raise UnknownZone(
            f"“{text}” is no time zone. Choose one of the list, or write it as in “Australia/Perth”."
        )
    return found


def place_words(zone: str) -> str:
    """Where its clock stands: "Perth", "New York"."""
    return zone.rpartition("/")[2].replace("_", " ")
