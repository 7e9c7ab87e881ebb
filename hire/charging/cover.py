"""The least cost of a number of days, bought in the lengths a rate card offers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from hire.charging.money import counted, exact


@dataclass(frozen=True, slots=True)
class BestRate:
    """total: exact, unrounded. units: how many of each length, {length in days: count}, the longest first."""

    total: Decimal
    units: dict[int, int]


def checked_rates(rates: Mapping[int, Decimal]) -> dict[int, Fraction]:
    """The rates, longest first. ValueError for none, for a length below one day, for a price below zero."""
    if not rates:
        raise ValueError("There are no rates to charge by.")
    for length in rates:
        if type(length) is not int or length < 1:
            raise ValueError(f"A rate covers one whole day or more, not {length!r}.")
    return {
        length: exact(rates[length], f"The price for {counted(length, 'day')}")
        for length in sorted(rates, reverse=True)
    }


def best_rate(*, days: int, rates: Mapping[int, Decimal]) -> BestRate:
    """The cheapest way to cover `days` by the lengths of `rates`, {length in days: price for that length}.

    Exact, by going through every number of days from one up; never greedy. A length may run past the end. Of covers that
    cost the same the one with the fewest units is taken, and of those the one that buys the fewest days.

    ValueError for days below 1 or not whole, no rates, a length below 1, a price below zero.
    """
    if type(days) is not int or days < 1:
        raise ValueError(f"A hire is charged for one whole day or more, not {days!r}.")
    prices = checked_rates(rates)
    places = max(0, *(-Decimal(price).as_tuple().exponent for price in rates.values()))  # type: ignore[operator]
    # Whole numbers of the smallest part of a price: exact, and quick.
    parts = [(length, int(price * 10**places)) for length, price in prices.items()]
    # For each number of days: cost, units and days bought of its best cover, and the length it begins with.
    least = [(0, 0, 0, 0)]
    for covered in range(1, days + 1):
        offers = []
        for length, price in parts:
            cost, count, bought, _ = least[max(0, covered - length)]
            offers.append((cost + price, count + 1, bought + length, length))
        least.append(min(offers, key=lambda offer: offer[:3]))
    units = dict.fromkeys(prices, 0)
    left = days
    while left > 0:
        units[least[left][3]] += 1
        left -= least[left][3]
    return BestRate(
        total=Decimal(f"{least[days][0]}E-{places}"),
        units={length: count for length, count in units.items() if count},
    )
