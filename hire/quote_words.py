"""What every quote prints, whatever was agreed besides, and what it does not promise. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from hire.charging.money import counted, money, number
from hire.charging.terms import CLOCKS, HoursTerms, Terms
from hire.terms_text import terms_from
from hire.terms_words import terms_words

WEEKS = {
    5: "5 hire days, Monday to Friday",
    6: "6 hire days, Monday to Saturday",
    7: "7 hire days, every day",
}
POOLED = {
    "day": "each day by itself",
    "week": "over each week from the handover",
    "bill period": "over the days of each docket",
    "whole hire": "over the whole hire",
}
NOT_COUNTED = "not counted: the price is by the day, whatever the hours"
# Said of every quote, or by a line of its price.
SAID_ABOVE = ("Week", "Minimum hire", "Hours", "A month", "Delivery", "Collection", "Tax")
NOT_INCLUDED = (
    "Fuel, water, permits and road tolls, the customer’s own operator, and whatever is found when the cart comes back: washing, "
    "tyres, damage."
)
NOT_INCLUDED_WET = (
    "Water, permits and road tolls, the operator’s meals and bed away from home, hours beyond those quoted, and whatever is found "
    "when the cart comes back."
)
NO_CART_KEPT = "No cart is promised by a quote. One is kept once the yard has made a hire agreement of it."
GATE_DECIDES = "Whether a cart may leave, the yard’s check at the gate decides on the day."
PRICE_STANDS = (
    "The price is that of the period above. The days, hours and dockets of the hire itself are charged, by these terms; the hire "
    "agreement’s own words decide."
)


def every_quote_says(body: Mapping[str, Any], *, rule: str) -> list[tuple[str, str]]:
    """Days in a week and in a month, hours included, how they are pooled, by which meter: all five, on every quote."""
    terms = terms_from(body, rule=rule)
    return [
        ("Days in a week", WEEKS[terms.days_in_week]),
        ("Days in a month", _month(terms)),
        *(_wet_hours(terms) if terms.wet else _hours(terms.hours, terms.shifts_a_day)),
    ]


def _month(terms: Terms) -> str:
    if terms.calendar_price is not None:
        return f"from a day to the same day of the next month, at {money(terms.calendar_price)}"
    words = f"four weeks, {terms.month_days} hire days"
    price = terms.lengths.get(terms.month_days)
    return words + (", no price of its own" if terms.wet or price is None else f", at {money(price)}")


def _wet_hours(terms: Terms) -> Iterator[tuple[str, str]]:
    assert terms.wet is not None
    least = number(terms.wet.minimum_hours)
    yield "Hours included", f"{least} h a docket at least; every hour on it is charged"
    yield "Hours pooled", "each docket by itself"
    yield "Meter", "none: the hours are those of the signed daily docket"


def _hours(hours: HoursTerms | None, shifts: int) -> Iterator[tuple[str, str]]:
    if hours is None:
        yield "Hours included", NOT_COUNTED
        yield "Hours pooled", "nothing to pool"
        yield "Meter", "none"
        return
    each = f" and shift, {counted(shifts, 'shift')} a day" if shifts > 1 else ""
    yield "Hours included", f"{number(hours.in_day)} h a day{each}; {money(hours.price)} an hour over"
    yield "Hours pooled", POOLED[hours.pool]
    yield "Meter", CLOCKS[hours.clock]


def other_terms(body: Mapping[str, Any], *, rule: str) -> list[tuple[str, str]]:
    """The rest of what was offered, in words, less what every quote says and what its lines do."""
    return [(what, words) for what, words in terms_words(body, rule=rule) if what not in SAID_ABOVE]


def minimum_words(terms: Terms) -> str:
    """The minimum hire in words."""
    if terms.wet is not None:
        return f"{number(terms.wet.minimum_hours)} h a docket"
    return counted(terms.minimum_days, "hire day") if terms.minimum_days > 1 else "one day"
