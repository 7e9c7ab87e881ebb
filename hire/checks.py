"""System checks of hire: a region the calendar does not know would only be found out by the first docket."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error, register

from hire.public_holidays import regions
from people.yard import yard_policy


@register()
def holiday_region_is_known(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    policy = yard_policy()
    known = regions(policy.holiday_country)
    if policy.holiday_region in ("", *known):
        return []
    words = f"YARD_HOLIDAY_REGION is {policy.holiday_region}; the calendar of {policy.holiday_country} knows {', '.join(known)}."
    return [Error(words, id="slake.E040")]
