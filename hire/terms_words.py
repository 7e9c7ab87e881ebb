"""What was agreed, in words: for the screen, the docket and whoever argues about it later. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from hire.back_terms import RISK_HOURS, hours_of
from hire.charge_stop import risk_words
from hire.charging.carriage import carriage_words
from hire.charging.money import counted, money, number
from hire.charging.terms import MONTH, Terms
from hire.terms_text import rates_text, terms_from
from hire.wet_text import WET_PRICE

RULES = {
    "best rate": "Best rate: the least the days can be covered for",
    "as agreed": "As agreed: the longest length that fits the stay sets the rate, by the day",
    "fixed": "Fixed: the rate of one length, however long it stays",
    "agreed minimum": "Agreed minimum: paid in any case, and its rate from the first day",
}
WASHES = (
    ("mud", "wash_mud_price"),
    ("set clay", "wash_clay_price"),
    ("binder, oil or lime", "wash_chemical_price"),
)
CAUTION = "The hire agreement’s own words decide."


def terms_words(body: Mapping[str, Any], *, rule: str) -> list[tuple[str, str]]:
    """(what, in words) of terms as they are stored. What was left blank is not named; wet hire has no rate by the day."""
    return [
        *rate_words(body, rule=rule),
        *_stand_down_words(body),
        *cover_words(body),
        *_back_words(body),
        *_rest_words(body),
    ]


def rate_words(body: Mapping[str, Any], *, rule: str) -> list[tuple[str, str]]:
    """What the hire itself is charged by, as a docket prints it: days in a week and a month, hours, how pooled, by which meter."""
    terms = terms_from(body, rule=rule)
    dry = [] if terms.wet else _dry_words(body, terms)
    return [*dry, *_wet_words(body), *_time_words(body), *carriage_words(terms.carriage)]


def _dry_words(body: Mapping[str, Any], terms: Terms) -> Iterator[tuple[str, str]]:
    rule = RULES.get(terms.rule, terms.rule)
    if terms.fixed_length == MONTH:
        rule = "Fixed: the price of a calendar month, each day its share of the month it is in, however long it stays"
    elif terms.fixed_length is not None:
        rule = f"Fixed: the rate of {counted(terms.fixed_length, 'day')}, however long it stays"
    yield "Rate rule", rule
    yield "Rates, days: price", "; ".join(rates_text(terms.rates).splitlines())
    if terms.month_price is not None:
        is_calendar = terms.calendar_price is not None
        lasts = (
            "from a day to the same day of the next month"
            if is_calendar
            else f"four weeks, {terms.month_days} hire days"
        )
        yield "A month", f"{money(terms.month_price)}; it is {lasts}"
    if terms.rule == "as agreed" and _said(body, "early_return"):
        kept = "the rate of the length agreed stays"
        again = "charged once at the rate of the days it stayed, never above the price of the length agreed"
        yield "Back early", again if terms.re_rates_on_early_return else kept
    if terms.shifts_a_day > 1:
        yield "Shifts", f"{terms.shifts_a_day} a day, {number(terms.shift_factor)} times the price of one"


def _said(body: Mapping[str, Any], name: str) -> str:
    return str(body.get(name) or "")


def _above_zero(body: Mapping[str, Any], name: str) -> bool:
    return Decimal(_said(body, name) or 0) > 0


def _wet_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    price = _price(body, WET_PRICE)
    if not price:
        return
    words = [
        f"{price} an hour of cart and operator",
        f"at least {_said(body, 'wet_minimum_hours') or 8} h a docket",
    ]
    if travel := _price(body, "wet_travel_price"):
        words.append(f"travel {travel} an hour")
    if after := _said(body, "wet_overtime_after"):
        words.append(f"after {after} h × {_said(body, 'wet_overtime') or '1.5'}")
    words += [
        f"{name} × {times}"
        for name, field in (("night", "wet_night"), ("Sunday", "wet_sunday"), ("holiday", "wet_holiday"))
        if (times := _said(body, field))
    ]
    yield "Wet hire", ", ".join(words)


def _price(body: Mapping[str, Any], name: str) -> str:
    """An amount with its cents, "1,450.00"; nothing where none was said."""
    return money(Decimal(body[name])) if _said(body, name) else ""


def _time_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield "Week", f"{_said(body, 'days_in_week') or 7} days"
    if days := _said(body, "minimum_days"):
        yield "Minimum hire", f"{days} days"
    where = f", of {_said(body, 'holiday_region')}" if _said(body, "holiday_region") else ""
    is_free = body.get("holidays") == "free"
    yield (
        "Public holidays",
        ("not charged, unless the cart works" if is_free else "charged like any day") + where,
    )
    if (hours := _said(body, "hours_in_day")) and not _said(body, WET_PRICE):
        price = _price(body, "hour_price")
        yield (
            "Hours",
            f"{hours} a day by {body['clock']} hours, counted over: {body['pool']}; {price} an hour over",
        )


def _stand_down_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    told = _said(body, "rain_told_by")
    words = [
        f"told by {told[:5]} that day" if told else "told at any time",
        f"the clock at most {_said(body, 'rain_most_hours') or 2} h on",
        "not inside the minimum hire",
    ]
    if cap := _said(body, "rain_cap_days"):
        words.append(f"at most {cap} days a hire")
    if price := _price(body, "rain_price"):
        words.append(f"such a day costs {price}")
    yield "Stood down for rain", ", ".join(words)
    yield (
        "Broken down",
        f"the day is taken off from {_said(body, 'breakdown_hours') or 4} hours lost, from notice on",
    )
    if not _said(body, WET_PRICE):
        free = _said(body, "free_call_before")
        yield "The day it is called off", f"not charged when called before {free[:5]}" if free else "charged"
    if body.get("closed_calls") == "open day":
        yield "Off-hire on a closed day", "counts from the next day the yard is open"


def cover_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """The damage waiver with its excess and what it leaves out, or the hirer's own cover; and until when damage is the hirer's."""
    yield from _waiver_words(body)
    if RISK_HOURS in body:
        yield "Damage after the off-hire call", f"is the hirer’s {risk_words(hours_of(body))}"


def _waiver_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if body.get("cover") == "own":
        yield "The hirer’s own cover", _said(body, "own_cover")
        return
    price = f"{_price(body, 'waiver_day')} a day charged" if _above_zero(body, "waiver_day") else ""
    price = price or (f"{body['waiver_pct']} % of the hire" if _above_zero(body, "waiver_pct") else "")
    if not price:
        return
    excess = f"; the hirer pays the first {_price(body, 'excess')} each time" if _said(body, "excess") else ""
    yield "Damage waiver", price + excess
    if excludes := _said(body, "waiver_excludes"):
        yield "The waiver leaves out", excludes


def _back_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What may be charged when it is back; a person decides each."""
    if price := _said(body, "fuel_price"):
        yield "Fuel", f"{price} a litre short"
    washing = [f"{dirt} {price}" for dirt, name in WASHES if (price := _price(body, name))]
    if washing:
        yield "Washing, a man-hour", f"{', '.join(washing)}; free: {_said(body, 'wash_free_hours') or 0} h"
    if call_out := _price(body, "tyre_call_out"):
        yield "Tyre call-out", call_out


def _rest_words(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if fee := _price(body, "fine_fee"):
        yield "Fines and tolls", f"{fee} for passing each on"
    yield "Tax", f"{_said(body, 'tax_pct') or 0} %"
