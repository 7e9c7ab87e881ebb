"""Parsing prices, terms and charges; rules live in charges and in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings

from fleet.models.carts import Cart
from hire.models.money import CLOCKS, DAYS_IN_WEEK, POOLS
from hire.terms_text import parse_rates

RULES = [
    ("", "Choose what was agreed"),
    ("best rate", "Best rate: the least the days can be covered for"),
    ("as agreed", "As agreed: the longest length that fits the stay sets the rate, by the day"),
    ("fixed", "Fixed: the rate of the shortest length, however long it stays"),
    ("agreed minimum", "Agreed minimum: paid in any case, and its rate from the first day"),
]
DAY_INPUT = {"type": "date"}


def _money(label: str, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(0), max_digits=9, decimal_places=2, required=False, **kwargs
    )


class RatesField(forms.CharField):
    """Lengths and prices, a line each."""

    def __init__(self, **kwargs: Any) -> None:
        words = "A line for each length: its days, a colon, its price. 1: 290.00"
        super().__init__(
            label="Rates",
            widget=forms.Textarea(attrs={"rows": 4}),
            max_length=2000,
            help_text=words,
            **kwargs,
        )

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return parse_rates(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


class TermsForm(forms.Form):
    """What a hire is charged by."""

    rates = RatesField()
    days_in_week = forms.TypedChoiceField(
        label="Days in a week", choices=DAYS_IN_WEEK, coerce=int, initial=7,
        help_text="With 5 a week is five hire days, and 5: is its rate.",
    )  # fmt: skip
    minimum_days = forms.IntegerField(label="Minimum hire, days", min_value=0, max_value=366, required=False)
    hours_in_day = forms.DecimalField(
        label="Hours in a day", min_value=Decimal("0.5"), max_value=Decimal(24), max_digits=4, decimal_places=1,
        required=False, help_text="Blank: hours are not counted.",
    )  # fmt: skip
    clock = forms.ChoiceField(label="By which meter", choices=CLOCKS)
    pool = forms.ChoiceField(label="Hours are counted over", choices=POOLS)
    hour_price = _money("An hour over")
    rain_cap_days = forms.IntegerField(
        label="Rain days at most", min_value=0, max_value=366, required=False, help_text="Blank: no limit."
    )
    rain_price = _money("A rain day costs")
    waiver_pct = forms.DecimalField(
        label="Damage waiver, % of the hire", min_value=Decimal(0), max_value=Decimal(100), max_digits=5, decimal_places=2,
        required=False,
    )  # fmt: skip
    fuel_price = forms.DecimalField(
        label="Fuel, a litre", min_value=Decimal(0), max_digits=7, decimal_places=3, required=False,
        help_text="Charged when it comes back with less than it left with.",
    )  # fmt: skip
    wash_free_hours = forms.DecimalField(
        label="Washing: man-hours free", min_value=Decimal(0), max_value=Decimal(99), max_digits=4, decimal_places=2,
        required=False,
    )  # fmt: skip
    wash_mud_price = _money("A man-hour of washing off mud")
    wash_clay_price = _money("A man-hour of washing off set clay")
    wash_chemical_price = _money("A man-hour of washing off binder, oil or lime")
    tyre_call_out = _money("Call-out for a cut tyre")
    tax_pct = forms.DecimalField(
        label="Tax, %", min_value=Decimal(0), max_value=Decimal(99), max_digits=4, decimal_places=2
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax_pct"].initial = settings.YARD_TAX_PCT

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if typed.get("hours_in_day") and typed.get("hour_price") is None and "hour_price" not in self.errors:
            self.add_error("hour_price", "Hours are counted: give the price of an hour over.")
        return typed


class CardForm(TermsForm):
    name = forms.CharField(label="Name of the card", max_length=60)
    cart = forms.ModelChoiceField(
        Cart.objects.filter(retired_on=None), label="For one cart", required=False, empty_label="By litres"
    )
    litres_from = forms.IntegerField(
        label="Else for carts from, litres", min_value=0, max_value=60_000, required=False,
        help_text="The card with the most litres that a cart has counts for it.",
    )  # fmt: skip
    starts_on = forms.DateField(
        label="From", widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"), help_text="The card in force ends that day."
    )  # fmt: skip
    field_order = ("name", "cart", "litres_from", "starts_on", "rates")

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        if typed.get("cart") and typed.get("litres_from"):
            self.add_error("litres_from", "A card is for one cart, or by litres: leave one of the two blank.")
        return typed


class AgreeForm(TermsForm):
    rule = forms.ChoiceField(
        label="Rate rule",
        choices=RULES,
        help_text="Nothing is taken for granted: choose it with the customer.",
    )
    words = forms.CharField(label="What else was said", max_length=240, required=False)
    field_order = ("rule", "rates")


class BesideForm(forms.Form):
    what = forms.CharField(label="What", max_length=80, help_text="Delivery, washing, fuel, a call-out.")
    quantity = forms.DecimalField(
        label="How much", min_value=Decimal("0.001"), max_digits=9, decimal_places=3
    )
    unit = forms.CharField(label="Of what", max_length=12, help_text="trip, h, L, piece")
    unit_price = forms.DecimalField(label="Price each", min_value=Decimal(0), max_digits=9, decimal_places=2)
    words = forms.CharField(label="How we know", max_length=240, required=False)


class DocketForm(forms.Form):
    through = forms.DateField(
        label="Up to and with", required=False, widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"),
        help_text="Blank: to the end of the hire, or to today while it is out.",
    )  # fmt: skip
