"""The worked table "Daily dockets" of docs/charges.md comes out as printed. It was worked by hand; common practice, no source."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest

from hire.charges import Docket, Hire, Terms, WetTerms, charge
from hire.models.daily import worked_hours
from tests.reference.test_charges import ADELAIDE, OUT_AT, amounts, tables

ROWS = tables("Daily dockets")[0]
TERMS = Terms(
    "best rate",
    wet=WetTerms(
        Decimal(165), travel_price=Decimal(95), overtime_after=Decimal(8), night=Decimal("1.25"), sunday=Decimal(2),
        holiday=Decimal("2.5"),
    ),
    tax_rate=Decimal("0.1"),
)  # fmt: skip


def docket_of(row):
    day, worked, breaks, travel, facts, _ = row
    on, hours = date.fromisoformat(day), Decimal(0)
    if worked:
        start, finish = (
            datetime.combine(on, time.fromisoformat(each), ADELAIDE).astimezone(UTC)
            for each in worked.split()
        )
        finish += timedelta(days=finish < start)
        hours = worked_hours(finish - start - timedelta(minutes=int(breaks)))
    return Docket(
        day, on, hours, Decimal(travel), is_night=facts == "night", cancelled_late=facts == "cancelled late",
        is_signed=facts != "nobody signed",
    )  # fmt: skip


def charged(rows):
    holidays = frozenset(date.fromisoformat(row[0]) for row in rows if row[4] == "holiday")
    ends = datetime(2026, 3, 12, 16, tzinfo=ADELAIDE)
    return charge(
        Hire(OUT_AT, ends, ADELAIDE, holidays=holidays, dockets=[docket_of(row) for row in rows]), terms=TERMS
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_a_days_docket(row):
    found = charged([row])
    assert [line.amount for line in found.lines] == ([] if row[5] == "none" else amounts(row[5]))
    assert bool(found.notes) == (row[5] == "none")


def test_all_of_them():
    found = charged(ROWS)
    assert (found.net, found.tax, found.total) == (
        Decimal("16847.93"),
        Decimal("1684.79"),
        Decimal("18532.72"),
    )
