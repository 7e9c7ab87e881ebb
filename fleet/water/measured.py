"""What a measured value must be before anything is reckoned with it. Each answers the value as a float."""

from __future__ import annotations

import math
from decimal import Decimal

Number = int | float | Decimal


def plain(value: float) -> str:
    """12566.3706 as "12,566.371": for a sentence, never for reckoning."""
    return f"{value:,.3f}".rstrip("0").rstrip(".")


def number(value: Number, what: str) -> float:
    """ValueError where it is no number: a word, nothing at all, NaN or without end."""
    try:
        found = math.nan if isinstance(value, str | bool) else float(value)
    except (TypeError, ValueError, OverflowError):
        found = math.nan
    if not math.isfinite(found):
        raise ValueError(f"{what} has to be a number.")
    return found


def above_zero(value: Number, what: str) -> float:
    found = number(value, what)
    if found <= 0:
        raise ValueError(f"{what} has to be above zero.")
    return found


def not_below_zero(value: Number, what: str) -> float:
    found = number(value, what)
    if found < 0:
        raise ValueError(f"{what} can't be below zero.")
    return found


def within(value: Number, least: float, most: float, what: str, unit: str) -> float:
    """ValueError outside least..most, both of which are still good."""
    found = number(value, what)
    if not least <= found <= most:
        raise ValueError(f"{what} has to be between {plain(least)} and {plain(most)} {unit}.")
    return found


def outside(value: Number | None, least: float, most: float, what: str, unit: str = "") -> tuple[str, ...]:
    """A sentence where the value lies outside a published range; none where it isn't given."""
    if value is None or least <= number(value, what) <= most:
        return ()
    unit = f" {unit}" if unit else ""
    said = f"{what} of {plain(float(value))}{unit} is outside {plain(least)} to {plain(most)}{unit}"
    return (f"{said}, the range of the equation.",)


def whole(value: object, least: int, sentence: str) -> int:
    """ValueError with the sentence unless it is a whole number of at least `least`."""
    if isinstance(value, bool) or not isinstance(value, int) or value < least:
        raise ValueError(sentence)
    return value
