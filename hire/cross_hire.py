"""What a cart hired in costs by its owner's own terms, and which hire bears what part of it. Pure.

Common practice, no source: the owner's agreement decides. Its rate, minimum and cut-off are the owner's and never the
customer's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from hire.charging.cover import best_rate
from hire.charging.money import cents, counted, joined, money

NAMES = {1: ("day", "days"), 7: ("week", "weeks"), 28: ("4 weeks", "lots of 4 weeks")}


@dataclass(frozen=True, slots=True)
class OwnerCost:
    """first, last: the days the owner charges, both included. charged: those days, or the minimum where it is more. total: before
    tax, to the cent."""

    first: date
    last: date
    charged: int
    total: Decimal
    working: str


@dataclass(frozen=True, slots=True)
class Span:
    """The days one hire of ours had the cart, or one cart of a hire was on site, both included."""

    key: str
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Share:
    days: int
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Shares:
    """by_hire: the part of each hire that had the cart. idle: what no hire bears, the minimum's further days among it."""

    by_hire: Mapping[str, Share]
    idle: Share


def last_charged(stops_at: datetime, *, zone: ZoneInfo) -> date:
    """The last day an owner charges who is called off so that the clock stops at an instant; midnight is the day before's."""
    return (stops_at - timedelta(microseconds=1)).astimezone(zone).date()


def owner_cost(*, first: date, last: date, rates: Mapping[int, Decimal], minimum_days: int = 0) -> OwnerCost:
    """What the owner charges for the days from `first` to `last`, both included, every calendar day counted: the least the rates
    cover them for, {length in days: price}, and no fewer days than the minimum.

    ValueError for a last day before the first, a minimum below zero, and as best_rate.
    """
    if last < first:
        raise ValueError("The owner’s clock stops on the day it starts, or after it.")
    if minimum_days < 0:
        raise ValueError("The owner’s minimum is not below zero.")
    days = (last - first).days + 1
    charged = max(days, minimum_days)
    best = best_rate(days=charged, rates=rates)
    pieces = [
        counted(count, *NAMES.get(length, (f"lot of {length} days",))) for length, count in best.units.items()
    ]
    sums = " + ".join(f"{count} × {money(rates[length])}" for length, count in best.units.items())
    words = counted(days, "day")
    if charged > days:
        words += f", the minimum of {charged} charged"
    if pieces != [counted(charged, "day")]:
        words += f", as {joined(pieces)}"
    return OwnerCost(first, last, charged, cents(best.total), f"{words}: {sums}")


def shared(cost: OwnerCost, spans: Sequence[Span]) -> Shares:
    """The cost by charged days: a day belongs to the first of `spans` that had the cart then, a day nobody had it to none. The
    parts and what is idle add up to the total to the cent."""
    days = days_had(spans, first=cost.first, last=cost.last)
    by_hire = {
        key: Share(count, cents(Fraction(cost.total) * count / cost.charged)) for key, count in days.items()
    }
    rest = cost.total - sum((one.amount for one in by_hire.values()), Decimal(0))
    return Shares(by_hire, Share(cost.charged - sum(days.values()), rest))


def days_had(spans: Sequence[Span], *, first: date, last: date) -> dict[str, int]:
    """How many of the days from `first` to `last`, both included, belong to each of `spans`: a day to the first that had it."""
    taken: set[date] = set()
    found: dict[str, int] = {}
    for span in spans:
        since, until = max(span.first, first), min(span.last, last)
        days = {since + timedelta(days=n) for n in range(max((until - since).days + 1, 0))} - taken
        taken |= days
        found[span.key] = found.get(span.key, 0) + len(days)
    return found


def parted(amount: Decimal, days: Mapping[str, int]) -> dict[str, Decimal]:
    """The amount by days, in cents that add up to it: each gets what all up to it get, rounded, less what those before it got.

    ValueError where nobody has a day."""
    whole = sum(days.values())
    if not whole:
        raise ValueError("Nothing is parted by no days.")
    parts, reached, given = {}, 0, Decimal("0.00")
    for key, count in days.items():
        reached += count
        up_to = cents(Fraction(amount) * reached / whole)
        parts[key], given = up_to - given, up_to
    return parts
