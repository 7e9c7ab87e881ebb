"""What a period comes to by terms: dry by its rate rule, wet by the dockets of its shifts. The hire alone, before tax. Pure."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from hire.charging.days import Week, last_day
from hire.charging.facts import Hire
from hire.charging.money import counted, joined, number
from hire.charging.rates import price
from hire.charging.terms import Terms
from hire.charging.wet import foreseen
from hire.shifts import DAY_SHIFT, NIGHT_SHIFT, WORKED

MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Period:
    """start, end: aware, half-open; zone: whose days are counted; shift: a key of hire.shifts.WORKED; night_at: when a night shift
    begins. hours and travel_hours: of each docket of wet hire, 0: the least that is charged, and no travel."""

    start: datetime
    end: datetime
    zone: ZoneInfo
    shift: str = "day"
    night_at: time = time(18)
    hours: Decimal = Decimal(0)
    travel_hours: Decimal = Decimal(0)

    @property
    def first(self) -> date:
        return self.start.astimezone(self.zone).date()

    @property
    def last(self) -> date:
        return (self.end - MOMENT).astimezone(self.zone).date()

    def week(self, terms: Terms, holidays: Collection[date]) -> Week:
        """Which of its days count by the terms alone: nobody has worked on any yet."""
        free = frozenset(holidays) if terms.holidays_are_free else frozenset()
        return Week(terms.days_in_week, free, frozenset(), {})

    def days(self, week: Week, last: date | None = None) -> list[date]:
        """Its hire days, the first at least; up to `last` where that is another than its own."""
        return week.between(self.first, last or self.last) or [self.first]

    def nights(self, week: Week) -> list[date]:
        """Its hire days on which a night shift begins before it ends; its first at least."""
        begin = (on for on in self.days(week) if datetime.combine(on, self.night_at, self.zone) < self.end)
        return list(begin) or [self.first]


@dataclass(frozen=True)
class Price:
    """What a period costs. days and nights: the hire days counted, and of wet hire the shifts; hours: of wet hire, charged of each
    docket; sums: how it comes about; card: of which card, where it is priced by one; shifts: of a day of dry hire."""

    total: Decimal
    days: int
    nights: int = 0
    hours: Decimal | None = None
    travel_hours: Decimal = Decimal(0)
    sums: tuple[str, ...] = ()
    card: str = ""
    shifts: int = 1

    @property
    def words(self) -> str:
        """As in "7 days", "7 days of 2 shifts", "7 days and 6 nights of 8 h and 1 h travel, wet"."""
        words = joined([counted(n, one) for n, one in ((self.days, "day"), (self.nights, "night")) if n])
        if self.hours is None:
            return f"{words} of {self.shifts} shifts" if self.shifts > 1 else words
        travel = f" and {number(self.travel_hours)} h travel" if self.travel_hours else ""
        return f"{words} of {number(self.hours)} h{travel}, wet"


def wet_price(period: Period, terms: Terms, holidays: Collection[date] = ()) -> Price:
    """As the signed dockets of its shifts will be charged. ValueError for terms without a price of wet hire."""
    if terms.wet is None:
        raise ValueError("These terms have no price of wet hire.")
    week, shifts = period.week(terms, holidays), WORKED[period.shift]
    days = period.days(week) if DAY_SHIFT in shifts else []
    nights = period.nights(week) if NIGHT_SHIFT in shifts else []
    found = foreseen(
        days, nights=nights, hours=period.hours, travel_hours=period.travel_hours, terms=terms.wet, holidays=holidays
    )  # fmt: skip
    return Price(found.total, len(days), len(nights), found.hours, period.travel_hours, found.sums)


def dry_price(period: Period, terms: Terms, holidays: Collection[date] = ()) -> Price:
    """By the rate rule of the terms, the minimum hire among its days: as it is charged once it is called off at its end."""
    week = period.week(terms, holidays)
    days = period.days(week, last_day(Hire(period.start, period.end, period.zone), terms))
    is_short = len(days) < terms.minimum_days
    if is_short:
        days = week.first_of(terms.minimum_days, period.first)
    found = price(days, start=period.first, week=week, terms=terms, by=days)
    return Price(
        found.amount,
        len(days),
        sums=(f"minimum hire, {found.working}" if is_short else found.working,),
        shifts=terms.shifts_a_day,
    )
