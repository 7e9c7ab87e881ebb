"""What an agreement says about money: the rate card, the rule it is read by, and what is counted.

Nothing here is a law. Every default is common practice, no source; the agreement's own words decide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from decimal import Decimal

from hire.charging.carriage import CarriageTerms
from hire.charging.cover import checked_rates
from hire.charging.money import exact

RULES = ("as agreed", "best rate", "fixed", "agreed minimum")
CLOCKS = {"engine": "engine hours", "pump": "pump hours", "key": "key hours", "docket": "docket hours"}
POOLS = ("day", "week", "bill period", "whole hire")
MONTHS = ("28 days", "calendar")
DAYS_IN_WEEK = (5, 6, 7)
# One shift, two and three a day against the price of one, where the agreement says nothing else. Common practice, no source.
SHIFT_FACTORS = {1: Decimal(1), 2: Decimal("1.5"), 3: Decimal(2)}
HOURS_IN_DAY = 24
# In place of a length: from a day to the same day of the next month.
MONTH = 0


def known(word: object, words: object, what: str) -> None:
    if word not in words:  # type: ignore[operator]
        raise ValueError(f"{what} is one of {', '.join(map(str, words))}, not {word}.")  # type: ignore[call-overload]


@dataclass(frozen=True, slots=True)
class HoursTerms:
    """Hours allowed for each day charged and each shift, by which clock, over what they are pooled, and the price of an
    hour over. A week of the pool counts from the day of handover."""

    in_day: Decimal
    clock: str
    pool: str
    price: Decimal

    def __post_init__(self) -> None:
        known(self.clock, CLOCKS, "The clock")
        known(self.pool, POOLS, "The pool of hours")
        exact(self.price, "The price of an hour over")
        if not 0 < exact(self.in_day, "The hours in a day") <= HOURS_IN_DAY:
            raise ValueError("The hours in a day are above 0 and at most 24.")


@dataclass(frozen=True, slots=True)
class StandDownTerms:
    """Rain: told by this hour of the day itself (None: any time), the clock at most this many hours on, at most so many days a
    hire (None: no cap), and what such a day still costs. Breakdown: hours lost in a day before the day is taken off."""

    told_by: time | None = time(7)
    most_hours: Decimal = Decimal(2)
    cap_days: int | None = None
    price: Decimal = Decimal(0)
    breakdown_hours: Decimal = Decimal(4)

    def __post_init__(self) -> None:
        exact(self.most_hours, "The hours of a stood-down day")
        exact(self.price, "The price of a stood-down day")
        exact(self.breakdown_hours, "The hours lost by a breakdown")
        if self.cap_days is not None:
            exact(self.cap_days, "The cap on stood-down days")


@dataclass(frozen=True, slots=True)
class WetTerms:
    """The cart with its operator, by the hour of the signed docket. The loadings multiply the hour; where several fit the
    greatest counts alone. `overtime_after` is in hours a docket, None for no overtime."""

    hour_price: Decimal
    minimum_hours: Decimal = Decimal(8)
    travel_price: Decimal = Decimal(0)
    overtime_after: Decimal | None = None
    overtime: Decimal = Decimal("1.5")
    night: Decimal = Decimal(1)
    sunday: Decimal = Decimal(1)
    holiday: Decimal = Decimal(1)

    def __post_init__(self) -> None:
        exact(self.hour_price, "The price of an hour")
        exact(self.minimum_hours, "The minimum hours of a docket")
        exact(self.travel_price, "The price of travel")
        if self.overtime_after is not None:
            exact(self.overtime_after, "The hours before overtime")
        if any(
            exact(each, "A loading") < 1 for each in (self.overtime, self.night, self.sunday, self.holiday)
        ):
            raise ValueError("A loading is 1 or more.")


@dataclass(frozen=True, slots=True)
class Terms:
    """The terms of one agreement.

    rule: "as agreed" (the rate of the longest length that fits the stay, by the day) | "best rate" (least cover) | "fixed"
    (one length's rate by the day, however long it stays) | "agreed minimum" (the rate of the minimum from the first day, and
    the minimum is paid). It has no default: the yard and the customer choose it.
    fixed_length: of a fixed rate, one of the lengths, or MONTH: the calendar month, each day its share of the month it falls in.
    rates: {length in hire days: price for that length}; with a week of 5 days a week is 5 hire days.
    month_price: for four weeks (month "28 days") or from a day to the same day of the next month ("calendar").
    cut_off: called off before this hour, the day of the call is not charged; None: every day begun is.
    shift_factors: what a day of so many shifts costs against one of one.
    holidays_are_free: a public holiday is no hire day unless the cart works.
    waiver_day: the damage waiver for each day charged; waiver_share: as a fraction of the hire. One of the two.
    re_rates_on_early_return: "as agreed" alone: a stay shorter than agreed is charged at the rate of the days it stayed.
    tax_rate: a fraction of the net (0.1 is 10 %).

    ValueError for no rates, a rate with no length, a price or hours below zero, a word that is not known, two prices for one
    length, two prices for the waiver, a minimum or a fixed length that is missing.
    """

    rule: str
    rates: Mapping[int, Decimal] = field(default_factory=dict)
    month_price: Decimal | None = None
    month: str = "28 days"
    fixed_length: int | None = None
    days_in_week: int = 7
    holidays_are_free: bool = False
    minimum_days: int = 0
    cut_off: time | None = None
    shifts_a_day: int = 1
    shift_factors: Mapping[int, Decimal] = field(default_factory=lambda: SHIFT_FACTORS)
    re_rates_on_early_return: bool = False
    hours: HoursTerms | None = None
    stand_down: StandDownTerms = field(default_factory=StandDownTerms)
    wet: WetTerms | None = None
    carriage: CarriageTerms = field(default_factory=CarriageTerms)
    waiver_day: Decimal = Decimal(0)
    waiver_share: Decimal = Decimal(0)
    tax_rate: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        known(self.rule, RULES, "The rate rule")
        known(self.month, MONTHS, "A month")
        known(self.days_in_week, DAYS_IN_WEEK, "The days in a week")
        known(self.shifts_a_day, self.shift_factors, "The shifts in a day")
        if any(exact(each, "The price of shifts") < 1 for each in self.shift_factors.values()):
            raise ValueError("More shifts a day cost 1 time the price of one, or more.")
        exact(self.waiver_day, "The waiver’s price")
        exact(self.minimum_days, "The minimum hire")
        if exact(self.waiver_share, "The share of the waiver") and exact(
            self.waiver_day, "The waiver’s price"
        ):
            raise ValueError("The damage waiver is so much a day or a share of the hire, not both.")
        if exact(self.tax_rate, "The tax rate") >= 1:
            raise ValueError("The tax rate is a fraction: 0.1 is 10 %.")
        if self.month_price is not None:
            exact(self.month_price, "The price for a month")
            if self.month == "28 days" and self.month_days in self.rates:
                raise ValueError(f"There are two prices for {self.month_days} days.")
        if self.rates or (self.wet is None and self.month_price is None):
            checked_rates(self.rates)
        if self.rule == "agreed minimum" and self.minimum_days < 1 and self.wet is None:
            raise ValueError("An agreed minimum says how many days it is.")
        if self.rule == "fixed" and self.wet is None:
            self._check_fixed()

    def _check_fixed(self) -> None:
        if self.fixed_length is None and len(self.lengths) + (self.calendar_price is not None) != 1:
            raise ValueError("A fixed rate says for which length.")
        if self.fixed_length == MONTH:
            if self.calendar_price is None:
                raise ValueError(
                    "A rate fixed by the calendar month has the price of a month that runs from a day to the same day of the next."
                )
        elif self.fixed_length is not None and self.fixed_length not in self.lengths:
            raise ValueError(f"There is no rate for {self.fixed_length} days to be fixed.")

    @property
    def month_days(self) -> int:
        """The hire days in four weeks."""
        return 4 * self.days_in_week

    @property
    def lengths(self) -> dict[int, Decimal]:
        """The rates by hire days, four weeks among them."""
        four_weeks = self.month_price is not None and self.month == "28 days"
        return {**self.rates, self.month_days: self.month_price} if four_weeks else dict(self.rates)  # type: ignore[dict-item]

    @property
    def calendar_price(self) -> Decimal | None:
        return self.month_price if self.month == "calendar" else None

    @property
    def shift_factor(self) -> Decimal:
        return self.shift_factors[self.shifts_a_day]
