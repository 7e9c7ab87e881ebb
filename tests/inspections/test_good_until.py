"""Until when a pre-hire check is good over days the yard is closed: the worked table of docs/good-until.md, and any days at all."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.good_until import days_closed, good_until

PAGE = Path(__file__).parents[2] / "docs" / "good-until.md"
ADELAIDE = ZoneInfo("Australia/Adelaide")
GOOD, MOST, HOUR = timedelta(hours=72), timedelta(hours=120), timedelta(hours=1)


def rows():
    section = PAGE.read_text(encoding="utf-8").split("## Until when\n")[1].split("\n## ")[0]
    found = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in row) for row in found[2:]]


def reckoned(signed_at, closed, *, most=MOST):
    return good_until(signed_at, good=GOOD, most=most, zone=ADELAIDE, is_closed=closed.__contains__)


def local(text):
    return datetime.fromisoformat(text).replace(tzinfo=ADELAIDE)


@pytest.mark.parametrize(
    ("signed", "closed", "until"), [row[1:] for row in rows()], ids=[row[0] for row in rows()]
)
def test_the_worked_table(signed, closed, until):
    days = {date.fromisoformat(day) for day in closed.split() if day != "none"}
    assert reckoned(local(signed), days) == local(until).astimezone(UTC)


FIRST = datetime(2026, 1, 1, tzinfo=UTC)
MOMENTS = st.timedeltas(timedelta(0), timedelta(days=700)).map(lambda since: FIRST + since)
DAYS = st.sets(st.integers(-1, 8), max_size=8)


def open_span(start, end, closed):
    """Elapsed time on open days of the half-open span, a minute at a time of the clock that everybody reads."""
    step = timedelta(minutes=10)
    count = (end - start) // step
    return step * sum((start + n * step).astimezone(ADELAIDE).date() not in closed for n in range(count))


@given(signed=MOMENTS, offsets=DAYS)
def test_it_counts_open_hours_and_stops_at_the_most(signed, offsets):
    signed = signed.replace(minute=0, second=0, microsecond=0)
    first = signed.astimezone(ADELAIDE).date()
    closed = {first + timedelta(days=n) for n in offsets}
    until = reckoned(signed, closed)
    assert signed + GOOD <= until <= signed + MOST
    counted = open_span(signed, until, closed)
    assert counted == GOOD or (until == signed + MOST and counted < GOOD)
    # The shorter way to say it, of any start: so long good as start < signed + 72 h + closed hours between.
    for start in (until - HOUR, until):
        between = (start - signed) - open_span(signed, start, closed)
        assert (start < min(signed + GOOD + between, signed + MOST)) is (start < until)


@given(signed=MOMENTS, later=st.timedeltas(timedelta(0), timedelta(days=3)), offsets=DAYS, more=DAYS)
def test_later_signed_is_longer_good_and_so_is_a_day_closed_more(signed, later, offsets, more):
    first = signed.astimezone(ADELAIDE).date()
    closed = {first + timedelta(days=n) for n in offsets}
    assert reckoned(signed, closed) <= reckoned(signed + later, closed)
    assert reckoned(signed, closed) <= reckoned(signed, closed | {first + timedelta(days=n) for n in more})


def test_a_longer_limit_that_is_not_longer_adds_nothing():
    signed = local("2026-11-27 14:00")
    assert reckoned(signed, {date(2026, 11, 29)}, most=GOOD / 2) == signed + GOOD


def test_the_closed_days_of_a_span_are_those_any_part_lies_on():
    start, closed = local("2026-11-27 14:00"), {date(2026, 11, 27), date(2026, 11, 29), date(2026, 12, 1)}

    def days(end):
        return days_closed(start, local(end), zone=ADELAIDE, is_closed=closed.__contains__)

    assert days("2026-12-01 00:00") == [date(2026, 11, 27), date(2026, 11, 29)]
    assert days("2026-12-01 00:01") == sorted(closed)
