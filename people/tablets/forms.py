"""Parsing what people type about tablets and PINs."""

from typing import Any

from django import forms

from people.tablets.pin_rules import LENGTH


class TabletForm(forms.Form):
    name = forms.CharField(
        label="What this tablet is called",
        max_length=40,
        help_text="By where it lies: Wash bay, Gate, Workshop bench.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class PinInput(forms.PasswordInput):
    """Never given back, and no password to a browser: one that keeps passwords would offer to keep this, on a shared tablet."""

    input_type = "text"


def _pin_field(label: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=LENGTH,
        help_text=help_text,
        widget=PinInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "masked"}),
    )


class PinForm(forms.Form):
    password = forms.CharField(
        label="Your password, as you have it now",
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    pin = _pin_field(
        "New PIN", "Six digits. Not one digit over and over, not a count up or down, not a pair repeated."
    )
    again = _pin_field("The same PIN again")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        pin, again = cleaned.get("pin"), cleaned.get("again")
        if pin is not None and again is not None and pin != again:
            self.add_error("again", "The two are not alike. Type the same PIN twice.")
        return cleaned
