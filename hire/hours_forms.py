"""Parsing hours that both sides agreed; rules live in actions."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from hire.models.agreed_hours import HOW

DAY = {"type": "date"}


class AgreedHoursForm(forms.Form):
    how = forms.ChoiceField(label="What hours these are", choices=HOW)
    first_on = forms.DateField(label="From and with", widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"))
    last_on = forms.DateField(
        label="Up to and with", widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"),
        help_text="What a meter showed on these days no longer counts.",
    )  # fmt: skip
    hours = forms.DecimalField(
        label="Hours in all", min_value=Decimal(0), max_digits=6, decimal_places=2,
        help_text="Shared out evenly over the hire days among them.",
    )  # fmt: skip
    yard_name = forms.CharField(label="Agreed for the yard by", max_length=80)
    customer_name = forms.CharField(label="Agreed for the customer by", max_length=80)
    words = forms.CharField(
        label="What it rests on", max_length=240, help_text="Their site diary, loads tapped, fuel, the shift sheet."
    )  # fmt: skip
