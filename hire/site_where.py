"""By whose clock, holidays and road rules a site's hires go, as its set says; a hire takes it over once, when it is made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from hire.models.customers import Customer
from hire.public_holidays import region_known
from hire.site_facts import set_at, sets_for
from hire.site_rules import site_key
from hire.where import RULES_OF, place_words, zone_named
from people.yard import yard_policy


@dataclass(frozen=True)
class Where:
    """time_zone: a name of the tz database; holiday_region: of the rule set's country; "" each: not said."""

    time_zone: str = ""
    holiday_region: str = ""
    rule_set: str = ""


def where_known(said: Where) -> Where:
    """As it is kept: the zone as the tz database writes it. UnknownZone; UnknownRegion for one the rule set's country has not."""
    rules = said.rule_set or yard_policy().rule_set
    zone = zone_named(said.time_zone) if said.time_zone else ""
    return Where(zone, region_known(rules, said.holiday_region), said.rule_set)


def where_body(said: Where) -> dict[str, Any]:
    """What stands of it in a set's text: only what is said, and nothing where nothing is."""
    found = {name: value for name, value in asdict(said).items() if value}
    return {"where": found} if found else {}


def where_from(body: Mapping[str, Any]) -> Where:
    return Where(**body.get("where", {}))


def where_rows(said: Where) -> list[tuple[str, str]]:
    """(label, value) of what is said."""
    rows = [
        ("Time zone", f"{place_words(said.time_zone)} time ({said.time_zone})" if said.time_zone else ""),
        ("Public holidays", f"of {said.holiday_region}" if said.holiday_region else ""),
        ("Rule set", RULES_OF.get(said.rule_set, "")),
    ]
    return [(label, value) for label, value in rows if value]


def where_of_hire(customer: Customer, place_of_work: str, typed: Where) -> Where:
    """Where a new hire works: what a person typed, else what the set in force for its site says, else the yard's own. A set's
    region counts only under the rule set it was said for. One query. UnknownZone; UnknownRegion."""
    found = set_at((customer.pk, site_key(place_of_work)), sets_for([customer.pk]))
    ours, asked = yard_policy(), where_from(found.body) if found else Where()
    rules = typed.rule_set or asked.rule_set or ours.rule_set
    region = asked.holiday_region if rules == (asked.rule_set or ours.rule_set) else ""
    return where_known(
        Where(typed.time_zone or asked.time_zone or ours.zone.key, typed.holiday_region or region, rules)
    )
