"""What a quote comes to: the whole document that dockets of such a hire will be charged by, for a period that ends as asked and in
which nothing happens. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from hire.charges import Docket, Hire, charge
from hire.charging.carriage import carried
from hire.charging.lines import HIRE, Line, lump
from hire.charging.money import joined
from hire.charging.terms import Terms
from hire.charging.wet import foreseen
from hire.period_price import Period
from hire.shifts import DAY_SHIFT, NIGHT_SHIFT, WORKED

DOCKET = "docket "


@dataclass(frozen=True)
class Quoted:
    """lines: of the hire itself, then what comes beside it; hire_days: as they are counted."""

    lines: tuple[Line, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    hire_days: int


def quoted(period: Period, terms: Terms, holidays: Collection[date] = ()) -> Quoted:
    """The hire, its waiver, delivery and collection, and the tax of all of it, as the dockets of the hire add up. By dockets of its
    shifts where the terms have a price of wet hire. ValueError for delivery by the km whose way nobody said, and as charge."""
    if terms.carriage.wants_km:
        raise ValueError("Delivery is priced by the km: give the km of the way to this hire.")
    week = period.week(terms, holidays)
    days = period.days(week) if DAY_SHIFT in WORKED[period.shift] else []
    nights = period.nights(week) if NIGHT_SHIFT in WORKED[period.shift] else []
    hire = Hire(
        period.start, period.end, period.zone, agreed_days=len(period.days(week)), holidays=frozenset(holidays),
        dockets=list(_dockets(period, days, nights)) if terms.wet else [], extras=list(carried(terms.carriage, is_back=True)),
    )  # fmt: skip
    found = charge(hire, terms=terms)
    lines = [line for line in found.lines if not line.key.startswith(DOCKET)]
    if terms.wet:
        lines = [*_by_the_hour(period, terms, holidays, days, nights), *lines]
    return Quoted(tuple(lines), found.net, found.tax, found.total, found.hire_days)


def _dockets(period: Period, days: list[date], nights: list[date]) -> Iterator[Docket]:
    for is_night, dates in ((False, days), (True, nights)):
        for on in dates:
            number = f"{on} {'night' if is_night else 'day'}"
            yield Docket(number, on, period.hours, period.travel_hours, is_night=is_night)


def _by_the_hour(
    period: Period, terms: Terms, holidays: Collection[date], days: list[date], nights: list[date]
) -> Iterator[Line]:
    """The dockets of one price as one line each."""
    assert terms.wet is not None
    some = foreseen(
        days, nights=nights, hours=period.hours, travel_hours=period.travel_hours, terms=terms.wet, holidays=holidays
    )  # fmt: skip
    with_travel = period.travel_hours and terms.wet.travel_price
    what = joined(["Cart", "operator", "travel"] if with_travel else ["Cart", "operator"])
    for number, (words, amount) in enumerate(zip(some.sums, some.amounts, strict=True), start=1):
        yield lump(f"{HIRE} {number}", what, amount, "hire", words.rpartition(" = ")[0])
