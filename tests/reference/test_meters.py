"""The worked tables of docs/meters.md come out as printed."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from fleet.meters import rate_ahead, usage_per_day, usage_split

PAGE = Path(__file__).parents[2] / "docs" / "meters.md"
DAY_0 = date(2026, 5, 1)
ASKED_ON = DAY_0 + timedelta(60)


def table(heading: str) -> list[list[str]]:
    section = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def readings(words: str) -> list[tuple[date, float]]:
    pairs = [word.split(":") for word in words.split()]
    return [(DAY_0 + timedelta(int(day)), float(value)) for day, value in pairs]


def printed(number: float | None) -> str:
    return "none" if number is None else f"{number:.2f}"


@pytest.mark.parametrize("row", table("By calendar day"), ids=lambda row: row[0])
def test_use_by_calendar_day(row: list[str]) -> None:
    _case, words, expected = row
    assert printed(usage_per_day(readings(words), on=ASKED_ON, most_per_day=24)) == expected


@pytest.mark.parametrize("row", table("On hire and idle"), ids=lambda row: row[0])
def test_use_on_hire_and_idle(row: list[str]) -> None:
    words, *expected = row
    hires = [(DAY_0, DAY_0 + timedelta(20)), (DAY_0 + timedelta(40), None)]
    split = usage_split(readings(words), on=ASKED_ON, hire_days=hires, most_per_day=24)
    rates = [printed(each and each.rate) for each in (split.per_hire_day, split.per_idle_day)]
    assert [*rates, str(split.hire_days), str(split.idle_days), split.basis] == expected


@pytest.mark.parametrize("row", table("Walking the hire calendar"), ids=lambda row: " ".join(row[:2]))
def test_the_walk_over_the_hire_calendar(row: list[str]) -> None:
    amount, words, days = row
    pairs = [] if words == "none" else [word.split("-") for word in words.split()]
    hires = [(DAY_0 + timedelta(int(start)), DAY_0 + timedelta(int(end))) for start, end in pairs]
    rate = rate_ahead(float(amount), on=DAY_0, per_hire_day=8, per_idle_day=0.5, hires=hires)
    assert float(amount) / rate == pytest.approx(float(days))
