"""docs/sites.md: its worked tables against the rules, its settings against those there are."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings

from hire.site_rules import PaperAsked, PaperHeld, paper_fault
from hire.working_days import days_before

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "sites.md").read_text()


def table(heading):
    part = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    lines = [line for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def day(words):
    return date.fromisoformat(words) if words else None


@pytest.mark.parametrize("row", table("Papers by their age"), ids=" ".join)
def test_each_paper_is_said_as_the_table_says(row):
    issued, until, most, used, said = row
    asked = PaperAsked("must", int(most) if most else None)
    assert paper_fault(PaperHeld("", day(issued), day(until)), asked, on=date.fromisoformat(used)) == said


@pytest.mark.parametrize("row", table("Sent ahead"), ids=" ".join)
def test_each_day_is_counted_back_as_the_table_says(row):
    used, days, by, _ = row
    closed = frozenset({date(2026, 12, 25)})
    found = days_before(date.fromisoformat(used), int(days), working=frozenset(range(5)), closed=closed)
    assert found == date.fromisoformat(by)


def test_every_setting_it_names_has_the_default_it_says():
    named = dict(re.findall(r"`(YARD_\w+)`, (\d+)", PAGE))
    assert len(named) == 3
    assert {name: str(getattr(settings, name)) for name in named} == named
