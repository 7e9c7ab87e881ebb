"""Parsing what is typed about yards; rules live in actions."""

from __future__ import annotations

from django import forms

from fleet.models.yards import Yard


class YardForm(forms.Form):
    name = forms.CharField(
        label="Yard", max_length=60, help_text="Carts that name it as their home are its carts."
    )
    address = forms.CharField(max_length=160)
    phone = forms.CharField(max_length=30, required=False, widget=forms.TextInput(attrs={"type": "tel"}))


class TransferForm(forms.Form):
    to = forms.ModelChoiceField(Yard.objects.all(), label="Its home from now on", empty_label="Choose a yard")
    is_there = forms.BooleanField(label="It stands there now", required=False)
    words = forms.CharField(label="Why, and how it goes there", max_length=160)
