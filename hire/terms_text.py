"""A rate card's terms as plain text values, which is how they are stored, and back. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import time
from decimal import Decimal
from typing import Any

from hire.back_terms import FIELDS as BACK_FIELDS
from hire.charges import HoursTerms, StandDownTerms, Terms
from hire.charging.carriage import FIELDS as CARRIAGE_FIELDS
from hire.charging.carriage import carriage_from
from hire.charging.terms import MONTH, SHIFT_FACTORS
from hire.wet_text import WET_FIELDS, wet_from

# Field of the text: what it is on screen.
FIELDS = (
    "rates", "month_price", "month", "fixed_by", "fixed_length", "early_return", "shifts", "shifts_two", "shifts_three",
    "days_in_week", "minimum_days", "holidays", "holiday_region", "hours_in_day", "clock", "pool", "hour_price",
    "rain_told_by", "rain_most_hours", "rain_cap_days", "rain_price", "breakdown_hours", "closed_calls", "free_call_before",
    "cover", "waiver_day", "waiver_pct", "excess", "waiver_excludes", "own_cover", "risk_hours", "fine_fee", "tax_pct", *WET_FIELDS,
    *BACK_FIELDS, *CARRIAGE_FIELDS,
)  # fmt: skip
SHIFT_FIELDS = {2: "shifts_two", 3: "shifts_three"}


# Commas part thousands and a point the cents; any other way of writing might be read as another amount.
PRICE = re.compile(r"\d+(\.\d{1,2})?|\d{1,3}(,\d{3})+(\.\d{1,2})?", re.ASCII)


def parse_rates(text: str) -> dict[int, Decimal]:
    """Lengths and prices, one a line: "7: 1,450.00". ValueError with a sentence for what is not so."""
    found: dict[int, Decimal] = {}
    for line in text.splitlines():
        if not line.strip():
            continue
        length, price = (part.strip() for part in (*line.split(":", 1), "")[:2])
        if not (length.isascii() and length.isdecimal() and PRICE.fullmatch(price)):
            raise ValueError(
                f"“{line.strip()}” is no rate. Write the days, a colon and the price: 7: 1,450.00"
            )
        days, amount = int(length), Decimal(price.replace(",", ""))
        if days in found:
            raise ValueError(f"There are two prices for {days} days.")
        found[days] = amount
    return found


def rates_text(rates: Mapping[int, Decimal]) -> str:
    return "\n".join(f"{days}: {price:,.2f}" for days, price in sorted(rates.items()))


def terms_from(body: Mapping[str, Any], *, rule: str) -> Terms:
    """The terms of a stored text. fixed: by the calendar month or the length it says, else the shortest; agreed minimum: the
    card's own minimum.
    ValueError as Terms, for a rate fixed by the month and by a length, and for the waiver and the hirer's own cover both."""
    rates = {int(days): Decimal(price) for days, price in body["rates"].items()}
    hours, is_waived = body.get("hours_in_day"), body.get("cover") != "own"
    if not is_waived and (body.get("waiver_day") or body.get("waiver_pct")):
        raise ValueError(
            "A hire has the damage waiver or the hirer’s own cover: leave the price of the waiver blank."
        )
    return Terms(
        rule=rule,
        rates=rates,
        month_price=_amount(body, "month_price"),
        month=body.get("month") or "28 days",
        fixed_length=_fixed_length(body, rates) if rule == "fixed" else None,
        re_rates_on_early_return=rule == "as agreed" and body.get("early_return") == "re-rates",
        days_in_week=int(body.get("days_in_week") or 7),
        holidays_are_free=body.get("holidays") == "free",
        shifts_a_day=int(body.get("shifts") or 1),
        shift_factors=SHIFT_FACTORS
        | {count: said for count, name in SHIFT_FIELDS.items() if (said := _amount(body, name)) is not None},
        minimum_days=int(body.get("minimum_days") or 0),
        hours=HoursTerms(Decimal(hours), body["clock"], body["pool"], Decimal(body["hour_price"])) if hours else None,
        stand_down=_stand_down_from(body),
        cut_off=_time(body, "free_call_before"),
        waiver_day=Decimal(body.get("waiver_day") or 0),
        wet=wet_from(body),
        carriage=carriage_from(body),
        waiver_share=Decimal(body.get("waiver_pct") or 0) / 100,
        tax_rate=Decimal(body.get("tax_pct") or 0) / 100,
    )  # fmt: skip


def _amount(body: Mapping[str, Any], name: str) -> Decimal | None:
    return None if body.get(name) in (None, "") else Decimal(str(body[name]))


def _fixed_length(body: Mapping[str, Any], rates: Mapping[int, Decimal]) -> int | None:
    if body.get("fixed_by") == "month":
        if body.get("fixed_length"):
            raise ValueError(
                "A fixed rate is by the calendar month or by a length of days: leave one of the two blank."
            )
        return MONTH
    return int(body["fixed_length"]) if body.get("fixed_length") else min(rates, default=None)


def _time(body: Mapping[str, Any], name: str) -> time | None:
    return time.fromisoformat(body[name]) if body.get(name) else None


def _stand_down_from(body: Mapping[str, Any]) -> StandDownTerms:
    """What was said of days stood down; what was not said is not asked, or is as StandDownTerms has it."""
    said = {
        name: Decimal(body[field])
        for name, field in (("most_hours", "rain_most_hours"), ("breakdown_hours", "breakdown_hours"))
        if body.get(field) not in (None, "")
    }
    return StandDownTerms(
        told_by=_time(body, "rain_told_by"),
        cap_days=int(body["rain_cap_days"]) if body.get("rain_cap_days") not in (None, "") else None,
        price=Decimal(body.get("rain_price") or 0),
        **said,
    )


def body_of(typed: Mapping[str, Any]) -> dict[str, Any]:
    """What a form gave, as it is stored: every value plain text, rates by length. Blank where nothing was said."""
    kept = {name: "" if typed.get(name) is None else str(typed[name]) for name in FIELDS if name != "rates"}
    return {"rates": {str(days): str(price) for days, price in typed["rates"].items()}} | kept
