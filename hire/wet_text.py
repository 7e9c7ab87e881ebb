"""The prices of wet hire as plain text values, beside the other terms of a rate card, and back. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from hire.charges import WetTerms

WET_PRICE = "wet_hour_price"
# Field of the text: field of WetTerms.
WET_FIELDS = {
    WET_PRICE: "hour_price",
    "wet_minimum_hours": "minimum_hours",
    "wet_travel_price": "travel_price",
    "wet_overtime_after": "overtime_after",
    "wet_overtime": "overtime",
    "wet_night": "night",
    "wet_sunday": "sunday",
    "wet_holiday": "holiday",
}


def wet_from(body: Mapping[str, Any]) -> WetTerms | None:
    """None where no price of an hour with operator is written. A blank is the default of WetTerms. ValueError as WetTerms."""
    said = {
        field: Decimal(body[name]) for name, field in WET_FIELDS.items() if body.get(name) not in (None, "")
    }
    return WetTerms(**said) if "hour_price" in said else None
