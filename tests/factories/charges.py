"""Hires, terms and facts to charge, without a database."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from hire.charges import Hire, HoursTerms, Reading, StandDown, Terms, WetTerms

ADELAIDE = ZoneInfo("Australia/Adelaide")
# A Monday.
OUT_AT = datetime(2026, 3, 2, 6, tzinfo=ADELAIDE)
CARD = {1: Decimal("290.00"), 7: Decimal("1450.00")}
BEST = Terms("best rate", CARD, month_price=Decimal("5000.00"))
ENGINE = HoursTerms(Decimal(8), "engine", "whole hire", Decimal(95))


def hire(days, **facts):
    return Hire(OUT_AT, OUT_AT + timedelta(days=days - 1, hours=9), ADELAIDE, **facts)


def read(day, hour, value, meter=""):
    return Reading(datetime(2026, 3, day, hour, tzinfo=ADELAIDE), Decimal(value), meter)


def rain(day, hour=6, **facts):
    return StandDown(date(2026, 3, day), "rain", datetime(2026, 3, day, hour, tzinfo=ADELAIDE), **facts)


def broken(day, told_day=None, **facts):
    told = datetime(2026, 3, told_day or day, 10, tzinfo=ADELAIDE)
    return StandDown(date(2026, 3, day), "breakdown", told, **facts)


def utc(*numbers):
    return datetime(*numbers, tzinfo=UTC)


def workings(found):
    return [line.working for line in found.lines]


WET = WetTerms(
    Decimal(160),
    travel_price=Decimal(90),
    overtime_after=Decimal(8),
    night=Decimal("1.25"),
    sunday=Decimal(2),
    holiday=Decimal("2.5"),
)
