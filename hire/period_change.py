"""What a changed period of a hire costs against the one promised, by its agreed terms. Reads only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from hire.charge_facts import terms_of
from hire.charging.money import money
from hire.models.agreements import Line
from hire.period_price import Period, Price, dry_price, wet_price
from hire.public_holidays import region_of, yard_holidays
from hire.swaps import lines_together
from people.yard import yard_policy

NONE_AGREED = "No rate is agreed for this hire, so the change has no price yet."
DRY_AGREED = "It goes with an operator, and the rate agreed is that of dry hire: the change has no price yet."
WET_AGREED = (
    "It goes without an operator, and the rate agreed is that of wet hire: the change has no price yet."
)


@dataclass(frozen=True)
class PeriodChange:
    """The price of the period promised and of the changed one, the hire alone, before tax."""

    old: Price
    new: Price

    @property
    def rows(self) -> tuple[tuple[str, Price], ...]:
        return ("As promised", self.old), ("Changed", self.new)

    @property
    def difference(self) -> Decimal:
        return self.new.total - self.old.total

    @property
    def words(self) -> str:
        if not self.difference:
            return "The same."
        return f"{money(abs(self.difference))} {'more' if self.difference > 0 else 'less'}."


def period_change(line: Line, starts_at: datetime, ends_at: datetime) -> PeriodChange | str:
    """The two prices of a hire whose cart is this line's, from the day its first cart was promised; in words why there are none.
    lines: their agreement loaded."""
    agreed, about = terms_of(line), line.agreement
    if agreed is None:
        return NONE_AGREED
    terms, is_wet = agreed.terms(), hasattr(line, "wet")
    if is_wet != (terms.wet is not None):
        return DRY_AGREED if is_wet else WET_AGREED
    lines, zone = lines_together(line), ZoneInfo(about.time_zone)
    begun = lines[0].promised.lower if len(lines) > 1 else None

    def period(start: datetime, end: datetime) -> Period:
        return Period(begun or start, end, zone, about.shift, yard_policy().second_shift_at)

    old, new = period(line.promised.lower, line.promised.upper), period(starts_at, ends_at)
    # A minimum hire may reach into the year after.
    until = date(max(old.last, new.last).year + 1, 12, 31)
    region = region_of(about, agreed.body)
    holidays = yard_holidays(first=min(old.first, new.first), last=until, region=region)
    reckon = wet_price if is_wet else dry_price
    return PeriodChange(reckon(old, terms, holidays), reckon(new, terms, holidays))
