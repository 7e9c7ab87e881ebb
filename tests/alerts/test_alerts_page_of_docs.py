"""docs/alerts.md: its worked table against the calculation, its settings against those there are."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings

from fleet.alerts.owing import yard_hours
from fleet.alerts.timing import steps
from people.yard import yard_policy

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "alerts.md").read_text()


def table(heading):
    """The cells of the rows of the first table under a heading."""
    part = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    lines = [line for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def local(words):
    return datetime.fromisoformat(words).replace(tzinfo=yard_policy().zone).astimezone(UTC)


@pytest.mark.parametrize("row", table("Worked table"), ids=lambda row: f"{row[0]} {row[1]}")
def test_each_row_is_what_the_yard_reckons(row):
    rank, found, *due = row
    assert steps(rank, at=local(found), hours=yard_hours()) == tuple(local(words) for words in due if words)


def test_the_table_has_the_night_the_evening_and_the_clock_changes():
    rows = table("Worked table")
    assert len(rows) >= 8
    assert {"2026-12-01 02:10", "2026-12-01 19:00", "2026-10-03 19:00"} <= {row[1] for row in rows}


def test_every_setting_it_names_is_read_and_has_its_default():
    folder = Path(settings.BASE_DIR) / "config" / "settings"
    read = (folder / "yard.py").read_text() + (folder / "notices.py").read_text()
    for names, default, _ in table("Settings"):
        for name, value in zip(re.findall(r"`(\w+)`", names), default.split(", "), strict=False):
            found = re.search(rf'"{name}", (?:\(.*?\), )?"?([^")]*)"?\)', read)
            assert found, name
            assert found[1] == ("" if value == "none" else value), name
