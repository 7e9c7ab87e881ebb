"""Public holidays of a hire, from the calendar library and the yard's own days, and the days the yard is closed.

Days of part of a day (in South Australia the evenings of 24 and 31 December) are none: a hire day is a whole one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from functools import cache

from hire.models.holidays import YardDay
from people.yard import yard_policy


@cache
def calendar(country: str, region: str, year: int) -> dict[date, str]:
    """The public holidays of a region ("": of the whole country alone) in a year, by day, days moved from a weekend among them.
    ValueError for a region the country does not have."""
    import holidays  # noqa: PLC0415 - weight: hundreds of calendars

    try:
        found = holidays.country_holidays(country, subdiv=region or None, years=year)
    except NotImplementedError as error:
        raise ValueError(f"The calendar knows no region {region} of {country}.") from error
    return {on: name.replace("; ", ", ") for on, name in found.items()}


@cache
def regions(country: str) -> tuple[str, ...]:
    import holidays  # noqa: PLC0415 - weight

    return tuple(holidays.list_supported_countries(include_aliases=False).get(country, ()))


def yard_holidays(*, first: date, last: date, region: str = "") -> dict[date, str]:
    """Public holidays from a day to a day, both included. region: where the hire works; "": the yard's own, with the days the
    yard added and less those it struck, which count wherever a hire works."""
    return holidays_by_region([region], first=first, last=last)[region]


def holidays_by_region(regions_of: Iterable[str], *, first: date, last: date) -> dict[str, dict[date, str]]:
    """As yard_holidays, of several regions. One query however many."""
    policy, kept = yard_policy(), list(YardDay.objects.standing().filter(on__range=(first, last)))
    answer = {}
    for region in set(regions_of):
        found: dict[date, str] = {}
        for year in range(first.year, last.year + 1):
            found |= calendar(policy.holiday_country, region or policy.holiday_region, year)
        for day in kept:
            if day.kind == "added":
                found[day.on] = day.what
            else:
                found.pop(day.on, None)
        answer[region] = {on: found[on] for on in sorted(found) if first <= on <= last}
    return answer


def closed_days(first: date, last: date) -> Callable[[date], bool]:
    """Whether the yard is closed on a day between two: none of its working days, a closed day of its settings, or a holiday."""
    policy = yard_policy()
    kept = {*yard_holidays(first=first, last=last), *policy.closed_days}
    return lambda on: on.weekday() not in policy.working_days or on in kept
