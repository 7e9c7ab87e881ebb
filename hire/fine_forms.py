"""Parsing notices and who drove; rules live in the actions."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from hire.actions.fines import Notice
from hire.forms import YardMoment
from hire.models.fines import KINDS, WAYS


class FineForm(forms.Form):
    kind = forms.ChoiceField(label="What it is", choices=KINDS)
    issuer = forms.CharField(label="Who sends it", max_length=80)
    notice_number = forms.CharField(label="Number of the notice", max_length=40)
    plate = forms.CharField(label="Plate", max_length=12)
    happened_at = YardMoment(label="When it happened")
    place_words = forms.CharField(label="Where", max_length=120)
    amount = forms.DecimalField(label="Amount", min_value=Decimal(0), max_digits=9, decimal_places=2)
    way = forms.ChoiceField(label="What becomes of it", choices=WAYS, widget=forms.RadioSelect)
    answer_by = forms.DateField(
        label="Answer by", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def notice(self) -> Notice:
        return Notice(**self.cleaned_data)


class DriverForm(forms.Form):
    name = forms.CharField(label="Name", max_length=80)
    licence = forms.CharField(label="Licence, number and class", max_length=60)
    from_at = YardMoment(label="Drove from")
    until_at = YardMoment(label="Until", required=False, help_text="Blank: until the cart is back.")
    told_by_words = forms.CharField(label="Who told us", max_length=120)
