"""Outside checks of service intervals: the page's worked table, and the calendar against dateutil."""

import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from servicing.intervals import Due, Interval, Mark, add_months, next_due

PAGE = Path(__file__).parents[2] / "docs" / "intervals.md"
ASKED_ON = date(2026, 6, 15)
MEASURES = {"h": "engine_hours", "km": "km", "months": "months"}


def worked_rows() -> list[list[str]]:
    section = PAGE.read_text(encoding="utf-8").split("## Worked table\n")[1]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def asked(interval: str, last_on: str, meters: str) -> Due:
    lengths = {MEASURES[unit]: int(number) for number, unit in re.findall(r"(\d+) (h|km|months)", interval)}
    before, after, rates = {}, {}, {"hours_per_day": None, "km_per_day": None}
    for unit, was, now, rate, low, high in re.findall(
        r"(h|km) ([\d.]+) > ([\d.]+) @ ([\d.]+)(?: \(([\d.]+)-([\d.]+)\))?", meters
    ):
        before[MEASURES[unit]], after[MEASURES[unit]] = float(was), float(now)
        name = {"h": "hours_per_day", "km": "km_per_day"}[unit]
        rates[name] = float(rate)
        if low:
            rates |= {f"{name}_low": float(low), f"{name}_high": float(high)}
    return next_due(
        interval=Interval(**lengths),
        last=Mark(date.fromisoformat(last_on), **before),
        now=Mark(ASKED_ON, **after),
        **rates,
    )


@pytest.mark.parametrize("row", worked_rows(), ids=lambda row: " ".join(row[:3]))
def test_the_worked_table_comes_out_as_printed(row: list[str]) -> None:
    interval, last_on, meters, *expected = row
    due = asked(interval, last_on, meters)
    found = [due.on, due.trigger, due.state, due.on_low, due.on_high]
    assert ["none" if each is None else str(each) for each in found] == expected


@pytest.mark.parametrize(
    ("on", "months", "expected"),
    [
        pytest.param(date(2025, 8, 31), 6, date(2026, 2, 28), id="month end clamped"),
        pytest.param(date(2023, 8, 31), 6, date(2024, 2, 29), id="month end clamped to a leap day"),
        pytest.param(date(2024, 2, 29), 12, date(2025, 2, 28), id="leap day, a year on"),
        pytest.param(date(2024, 2, 29), 48, date(2028, 2, 29), id="leap day to leap day"),
        pytest.param(date(2096, 2, 29), 48, date(2100, 2, 28), id="a century without its leap day"),
        pytest.param(date(2026, 2, 28), 1, date(2026, 3, 28), id="a last day does not stick to month ends"),
        pytest.param(date(2026, 12, 31), 1, date(2027, 1, 31), id="over the new year"),
        pytest.param(date(2026, 11, 30), 1, date(2026, 12, 30), id="December itself"),
        pytest.param(date(2026, 6, 15), 0, date(2026, 6, 15), id="no months"),
    ],
)
def test_months_are_added_to_the_same_day_or_the_last(on: date, months: int, expected: date) -> None:
    assert add_months(on, months) == expected == on + relativedelta(months=months)


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(0, 240))
def test_months_agree_with_dateutil(on: date, months: int) -> None:
    assert add_months(on, months) == on + relativedelta(months=months)


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(1, 240), st.integers(0, 9000))
def test_a_service_by_months_falls_due_on_dateutils_day(last_on: date, months: int, days_on: int) -> None:
    due = next_due(
        interval=Interval(months=months),
        last=Mark(last_on),
        now=Mark(last_on + timedelta(days_on)),
        hours_per_day=None,
        km_per_day=None,
    )
    due_on = last_on + relativedelta(months=months)
    assert (due.on, due.on_low, due.on_high, due.trigger) == (due_on, due_on, due_on, "months")
    assert (due.state in {"due", "overdue"}) is (last_on + timedelta(days_on) >= due_on)
