"""Amounts, exact until the one place where they are rounded, and how they are spoken of."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import floor

Amount = Decimal | Fraction | int


def exact(value: object, what: str) -> Fraction:
    """The number as it was written. ValueError for a float, for what is no number, and below zero.

    A float is refused because 0.1 is not a tenth in it, and the cent is argued about.
    """
    if type(value) is bool or not isinstance(value, (int, Decimal, Fraction)):
        raise ValueError(f"{what} is a whole number or a Decimal, not {value!r}.")
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(f"{what} is not a number.")
    if value < 0:
        raise ValueError(f"{what} is below zero.")
    return Fraction(value)


def cents(amount: Amount) -> Decimal:
    """The one place where money is rounded: to the cent, halves away from zero, so that a credit undoes its charge."""
    exact_amount = Fraction(amount)
    whole = floor(abs(exact_amount) * 100 + Fraction(1, 2))
    return Decimal(f"{'-' if exact_amount < 0 else ''}{whole}E-2") if whole else Decimal("0.00")


def money(amount: Decimal | int) -> str:
    """1,450.00; a price with more places keeps them (1.985)."""
    exponent = Decimal(amount).as_tuple().exponent
    return f"{amount:,.{max(2, -exponent if isinstance(exponent, int) else 0)}f}"


def plain(price: Decimal) -> str:
    """A price for another program: two places, and more where it has more, so that quantity times price makes the amount."""
    exponent = price.normalize().as_tuple().exponent
    return f"{price:.{max(2, -exponent if isinstance(exponent, int) else 0)}f}"


def number(value: Amount) -> str:
    """Hours, litres and millimetres as they were written, 12 or 7.5; a share of an hour to two places."""
    written = value if isinstance(value, Decimal) else cents(value)
    return f"{written.normalize():,f}"


def percent(share: Decimal) -> str:
    return f"{number(share * 100)} %"


def counted(count: Amount, one: str, many: str = "") -> str:
    return f"{number(count)} {one if count == 1 else many or f'{one}s'}"


def day_words(on: date) -> str:
    return f"{on.day} {on:%B %Y}"


def span_words(first: date, last: date) -> str:
    return day_words(first) if first == last else f"{day_words(first)} to {day_words(last)}"


def days_words(days: Sequence[date]) -> str:
    """Days in order, from the first to the last where none between them is missing."""
    if len(days) > 1 and (days[-1] - days[0]).days == len(days) - 1:
        return span_words(days[0], days[-1])
    return joined([day_words(on) for on in days])


def joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
