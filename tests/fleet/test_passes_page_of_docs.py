"""The tables of docs/passes.md: what may have been spoken when, and which rules ask for a second name."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fleet.passing import RULE_WORDS, SECOND_NAME_RULES, confirm_by, spoken_fault

PAGE = (Path(__file__).parents[2] / "docs" / "passes.md").read_text(encoding="utf-8")
ADELAIDE = ZoneInfo("Australia/Adelaide")
SAYS = {
    "taken": "",
    "too long ago": "6 hours ago or more",
    "still to come": "still to come",
    "before it was found": "before it was found",
}
TWELVE = timedelta(hours=12)


def rows(heading):
    section = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    found = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in row) for row in found[2:]]


def moment(text):
    return datetime.fromisoformat(text).replace(tzinfo=ADELAIDE) if text not in ("", "none") else None


@pytest.mark.parametrize(("found", "spoken", "entered", "says", "until"), rows("A pass by phone"))
def test_the_worked_table(found, spoken, entered, says, until):
    fault = spoken_fault(moment(spoken), found_at=moment(found), good_for=TWELVE, at=moment(entered))
    assert SAYS[says] in fault
    assert bool(fault) is (says != "taken")
    assert (confirm_by(moment(spoken), good_for=TWELVE) if says == "taken" else None) == moment(until)


def test_what_was_found_within_the_minute_was_found_before():
    spoken = moment("2026-12-01 02:10")
    for seconds, faulty in ((0, False), (59, False), (60, True)):
        found = spoken + timedelta(seconds=seconds)
        fault = spoken_fault(spoken, found_at=found, good_for=TWELVE, at=spoken + timedelta(minutes=2))
        assert bool(fault) is faulty


def test_a_yard_that_wants_its_passes_confirmed_sooner_takes_none_older():
    spoken = moment("2026-12-01 02:10")
    for hours, faulty in ((3, False), (4, True)):
        at = spoken + timedelta(hours=hours)
        fault = spoken_fault(spoken, found_at=None, good_for=timedelta(hours=4), at=at)
        assert bool(fault) is faulty


def test_the_rules_that_ask_for_a_second_name():
    table = rows("What a pass records")
    codes = [re.match(r"`(.+?)`", rule)[1] for rule, _, _ in table]
    assert set(codes) == set(RULE_WORDS)
    always = {code for code, (_, _, second) in zip(codes, table, strict=True) if second == "always"}
    assert always == SECOND_NAME_RULES
