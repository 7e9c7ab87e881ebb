"""Public holidays of a hire, from the calendar library and the yard's own days, and the days the yard is closed.

Days of part of a day (in South Australia the evenings of 24 and 31 December) are none: a hire day is a whole one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from functools import cache
from typing import Any

from hire.models.agreements import Agreement
from hire.models.holidays import YardDay
from hire.where import RULES_OF, UnknownRegion
from people.yard import COUNTRIES, yard_policy


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


def region_known(rule_set: str, region: str) -> str:
    """The region, or "" for none; UnknownRegion where the calendar of the rule set's country has no such region."""
    if region and region not in regions(COUNTRIES[rule_set]):
        raise UnknownRegion(
            f"The calendar of {RULES_OF[rule_set]} holidays knows no {region}. Choose a region of the rule set the hire works "
            "under, or leave it at the usual one."
        )
    return region


def region_of(agreement: Agreement, body: Mapping[str, Any]) -> str:
    """Whose holidays a hire keeps, as yard_holidays takes it: what its terms say, else its agreement. body: of the terms, empty
    without any. Under another rule set than the yard's it is the region of that country, as in "GB:SCT"."""
    country, said = COUNTRIES[agreement.rule_set], body.get("holiday_region")
    # Terms may be older than the rule set the hire was changed to.
    region = said if said in regions(country) else agreement.holiday_region
    return region if country == yard_policy().holiday_country else f"{country}:{region}"


def holidays_words(agreement: Agreement) -> str:
    """Whose holidays the agreement keeps, where its terms say nothing else: "WA", "SA", "the whole country"."""
    policy = yard_policy()
    is_ours = COUNTRIES[agreement.rule_set] == policy.holiday_country
    usual = policy.holiday_region if is_ours else ""
    country = "" if is_ours else f", {RULES_OF[agreement.rule_set]} calendar"
    return f"{agreement.holiday_region or usual or 'the whole country'}{country}"


def yard_holidays(*, first: date, last: date, region: str = "") -> dict[date, str]:
    """Public holidays from a day to a day, both included. region: where the hire works, as region_of has it; "": the yard's own,
    with the days the yard added and less those it struck, which count wherever a hire works."""
    return holidays_by_region([region], first=first, last=last)[region]


def holidays_by_region(regions_of: Iterable[str], *, first: date, last: date) -> dict[str, dict[date, str]]:
    """As yard_holidays, of several regions. One query however many."""
    kept = list(YardDay.objects.standing().filter(on__range=(first, last)))
    answer = {}
    for region in set(regions_of):
        found: dict[date, str] = {}
        for year in range(first.year, last.year + 1):
            found |= calendar(*_calendar_of(region), year)
        for day in kept:
            if day.kind == "added":
                found[day.on] = day.what
            else:
                found.pop(day.on, None)
        answer[region] = {on: found[on] for on in sorted(found) if first <= on <= last}
    return answer


def region_words(region: str) -> str:
    """A region as region_of has it, in words: "WA", "SCT of GB", "GB"."""
    country, _, part = region.rpartition(":")
    return f"{part} of {country}" if country and part else country or part


def _calendar_of(region: str) -> tuple[str, str]:
    policy = yard_policy()
    country, _, part = region.rpartition(":")
    return (country, part) if country else (policy.holiday_country, part or policy.holiday_region)


def closed_days(first: date, last: date) -> Callable[[date], bool]:
    """Whether the yard is closed on a day between two: none of its working days, a closed day of its settings, or a holiday."""
    policy = yard_policy()
    kept = {*yard_holidays(first=first, last=last), *policy.closed_days}
    return lambda on: on.weekday() not in policy.working_days or on in kept
