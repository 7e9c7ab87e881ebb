"""Parsing what else is said of a rate: a month, one fixed length, an early return, shifts, delivery. Rules live in charges."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

MONTHS = [("28 days", "Four weeks"), ("calendar", "From a day to the same day of the next month")]
FIXED_BY = [("", "A length of days"), ("month", "The calendar month")]
EARLY_RETURNS = [
    ("keeps", "The rate of the length agreed stays"),
    ("re-rates", "Re-rated once, at the rate of the days it stayed"),
]
CARRIED_BY = [("trip", "So much each way"), ("km", "So much a km of the way")]
SHIFTS = [("", "As the hire is worked"), ("1", "One"), ("2", "Two"), ("3", "Three")]


def price_field(label: str, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(0), max_digits=9, decimal_places=2, required=False, **kwargs
    )


def times_field(label: str, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(1), max_value=Decimal(9), max_digits=3, decimal_places=2, required=False,
        **{"initial": Decimal(1)} | kwargs,
    )  # fmt: skip


class RateFields(forms.Form):
    """Of the card and of a hire alike."""

    month_price = price_field("A month", help_text="Blank: no price of its own.")
    month = forms.ChoiceField(label="A month is", choices=MONTHS, required=False)
    fixed_by = forms.ChoiceField(
        label="A fixed rate is by", choices=FIXED_BY, required=False,
        help_text="By the calendar month: its price above, each day the share of the month it falls in.",
    )  # fmt: skip
    fixed_length = forms.IntegerField(
        label="Or that of, days", min_value=1, max_value=366, required=False,
        help_text="One of the lengths of the rates. Blank: the shortest.",
    )  # fmt: skip
    early_return = forms.ChoiceField(
        label="Back before the length agreed", choices=EARLY_RETURNS, required=False,
        help_text="Of the rule “as agreed”: never above the price of the length agreed.",
    )  # fmt: skip
    shifts_two = times_field(
        "Two shifts a day cost, times one",
        initial=Decimal("1.5"),
        help_text="Each shift brings its hours. Common practice.",
    )
    shifts_three = times_field("Three shifts a day cost, times one", initial=Decimal(2))


class ShiftsAgreed(forms.Form):
    """Of a hire alone."""

    shifts = forms.ChoiceField(
        label="Shifts a day charged", choices=SHIFTS, required=False,
        help_text="The hire itself says day, or day and night; three shifts are said here.",
    )  # fmt: skip


class CarriageFields(forms.Form):
    """Of the card and of a hire alike."""

    delivery_price = price_field(
        "Delivery", help_text="Charged once the cart is handed over. Blank: not charged."
    )
    collection_price = price_field("Collection", help_text="Charged once it is back. A swap is not charged.")
    carried_by = forms.ChoiceField(label="Both are", choices=CARRIED_BY, required=False)


class WayAgreed(forms.Form):
    """Of a hire alone."""

    carried_km = forms.DecimalField(
        label="The way, km", min_value=Decimal(0), max_digits=5, decimal_places=1, required=False,
        help_text="One way, where delivery is by the km.",
    )  # fmt: skip
