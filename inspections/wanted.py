"""What the checks of the newest issue want to see, for whoever repairs what they found."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from fleet.wanted import Wanted
from inspections.check import Check
from inspections.editions import checks_of_edition, newest_edition
from people.yard import yard_policy


def _reading(check: Check) -> str:
    if check.answer != "measure":
        return ""
    if check.limit_from == "tread":
        return "the least groove in mm, against the change-out depth of that wheel"
    rule_set = yard_policy().rule_set
    limit, unit = check.limit_for(rule_set), check.unit_for(rule_set) or ""
    return (
        f"{limit.words} is good"
        if limit
        else f"in {unit}; no limit is published or set".removeprefix("in ; ")
    )


def wanted(check_keys: Collection[str]) -> Mapping[str, Wanted]:
    """One query."""
    edition = newest_edition()
    if edition is None:
        return {}
    return {
        check.key: Wanted(check.look_for, check.sound, _reading(check), check.system)
        for check in checks_of_edition(edition)
        if check.key in check_keys
    }
