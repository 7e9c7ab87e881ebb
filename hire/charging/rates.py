"""What a number of hire days comes to by the agreement's rate rule, exact, with its working."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import count

from hire.charging.cover import best_rate
from hire.charging.days import ONE_DAY, Week
from hire.charging.money import cents, counted, joined, money
from hire.charging.terms import MONTH, Terms
from servicing.intervals import add_months


@dataclass(frozen=True, slots=True)
class Priced:
    """exact: unrounded. tier: the length whose rate it is, MONTH, or None for a least cover. single: (quantity, unit, unit price)
    where one price makes the whole amount."""

    exact: Fraction
    words: str
    sums: str
    tier: int | None = None
    single: tuple[int, str, Decimal] | None = None

    @property
    def amount(self) -> Decimal:
        return cents(self.exact)

    @property
    def working(self) -> str:
        return f"{self.words}: {self.sums}"


def names_of(length: int, terms: Terms) -> tuple[str, str]:
    """One of a length, and many."""
    if length == MONTH:
        return "calendar month", "calendar months"
    if length == 1:
        return "day", "days"
    if length == terms.days_in_week:
        return "week", "weeks"
    if length == terms.month_days:
        return "month of 4 weeks", "months of 4 weeks"
    return f"lot of {length} days", f"lots of {length} days"


def rate_name(length: int, terms: Terms) -> str:
    """The rate of one length, as a rate card heads it."""
    known = {MONTH: "calendar-month", 1: "day", terms.days_in_week: "week", terms.month_days: "4-week"}
    return f"{known.get(length, f'{length}-day')} rate"


def price(days: Sequence[date], *, start: date, week: Week, terms: Terms, by: Sequence[date]) -> Priced:
    """The price of `days` (hire days, in order, none before start). by: the days that set the tier, a stay or an agreed length.

    Calendar months run from `start`.
    """
    if not days:
        return Priced(Fraction(0), "no days", money(0))
    if terms.rule == "best rate":
        return _least(days, start=start, terms=terms)
    return _by_tier(
        days, start=start, week=week, terms=terms, tier=tier_of(by, start=start, week=week, terms=terms)
    )


def tier_of(by: Sequence[date], *, start: date, week: Week, terms: Terms) -> int:
    """The longest length that fits the days, else the shortest there is; the fixed one of a fixed rate."""
    lengths = terms.lengths
    if terms.rule == "fixed":
        if terms.fixed_length is not None:
            return terms.fixed_length
        return next(iter(lengths), MONTH)
    if terms.calendar_price is not None:
        month = week.between(start, add_months(start, 1) - ONE_DAY)
        if not lengths or (by and month and by[-1] >= month[-1]):
            return MONTH
    return max((length for length in lengths if length <= len(by)), default=min(lengths))


def _least(days: Sequence[date], *, start: date, terms: Terms) -> Priced:
    """The least of: no calendar month, one, two, ... from the start, and the cheapest cover of the days that are left."""
    found: tuple[Decimal, int, dict[int, int]] | None = None
    for months in count():
        inside = sum(on < add_months(start, months) for on in days) if months else 0
        left = len(days) - inside
        if not left or terms.lengths:
            cover = best_rate(days=left, rates=terms.lengths) if left else None
            total = months * (terms.calendar_price or Decimal(0)) + (cover.total if cover else Decimal(0))
            units = {**({MONTH: months} if months else {}), **(cover.units if cover else {})}
            one = (total, sum(units.values()), units)
            found = one if found is None or one[:2] < found[:2] else found
        if not left or terms.calendar_price is None:
            break
    assert found is not None
    return _covered(len(days), found[2], terms)


def _covered(days: int, units: dict[int, int], terms: Terms) -> Priced:
    factor = terms.shift_factor
    prices = {length: _price_of(length, terms) for length in units}
    pieces = [counted(number, *names_of(length, terms)) for length, number in units.items()]
    sums = " + ".join(f"{number} × {money(prices[length])}" for length, number in units.items())
    words = counted(days, "day")
    if pieces != [words]:
        words += f" as {joined(pieces)}"
    single = None
    if len(units) == 1:
        [(length, number)] = units.items()
        single = (number, names_of(length, terms)[0], prices[length] * factor)
    total = sum((Fraction(prices[length]) * number for length, number in units.items()), Fraction(0))
    return Priced(total * Fraction(factor), words, _with_shifts(sums, terms, len(units)), single=single)


def _by_tier(days: Sequence[date], *, start: date, week: Week, terms: Terms, tier: int) -> Priced:
    if tier == MONTH:
        return _by_months(days, start=start, week=week, terms=terms)
    rate, number = _price_of(tier, terms), len(days)
    words = counted(number, "day")
    factor = terms.shift_factor
    if tier == 1:
        sums = _with_shifts(f"{number} × {money(rate)}", terms, 1)
        return Priced(
            Fraction(rate) * number * Fraction(factor), words, sums, 1, (number, "day", rate * factor)
        )
    whole, over = divmod(number, tier)
    single = (whole, names_of(tier, terms)[0], rate * factor) if not over else None
    words += f" at the {rate_name(tier, terms)}"
    sums = _with_shifts(f"{number} × {money(rate)} / {tier}", terms, 1)
    return Priced(Fraction(rate) * number / tier * Fraction(factor), words, sums, tier, single)


def _by_months(days: Sequence[date], *, start: date, week: Week, terms: Terms) -> Priced:
    """Each day is its share of the calendar month it falls in, counted in hire days."""
    rate, shares, whole = _price_of(MONTH, terms), [], 0
    for months in count():
        opens, closes = add_months(start, months), add_months(start, months + 1)
        if not days or days[-1] < opens:
            break
        paid = sum(opens <= on < closes for on in days)
        of = len(week.between(opens, closes - ONE_DAY))
        if paid and paid == of:
            whole += 1
        elif paid:
            shares.append((paid, of))
    exact = Fraction(rate) * (whole + sum((Fraction(paid, of) for paid, of in shares), Fraction(0)))
    pieces = [counted(whole, *names_of(MONTH, terms))] if whole else []
    pieces += [f"{paid} of the {of} days of a month" for paid, of in shares]
    sums = [f"{whole} × {money(rate)}"] if whole else []
    sums += [f"{paid}/{of} × {money(rate)}" for paid, of in shares]
    single = (whole, names_of(MONTH, terms)[0], rate * terms.shift_factor) if not shares else None
    return Priced(
        exact * Fraction(terms.shift_factor),
        f"{counted(len(days), 'day')} as {joined(pieces)}",
        _with_shifts(" + ".join(sums), terms, len(sums)),
        MONTH,
        single,
    )


def _price_of(length: int, terms: Terms) -> Decimal:
    rate = terms.calendar_price if length == MONTH else terms.lengths[length]
    assert rate is not None
    return rate


def _with_shifts(sums: str, terms: Terms, pieces: int) -> str:
    if terms.shifts_a_day == 1:
        return sums
    return (
        f"{f'({sums})' if pieces > 1 else sums} × {terms.shift_factor} for {terms.shifts_a_day} shifts a day"
    )
