"""Parsing what is typed of a driver who collects a cart, and what the driver fills in as they leave with it."""

from __future__ import annotations

from typing import Any

from django import forms

from hire.actions.gate_given import SIDES
from hire.forms import SidesForm
from hire.models.links import DRIVES_FOR


class CollectionLinkForm(forms.Form):
    name = forms.CharField(
        label="Who collects it", max_length=60, help_text="The driver’s own name: it stands on the receipt."
    )
    drives_for = forms.ChoiceField(label="Drives for", choices=DRIVES_FOR, widget=forms.RadioSelect)
    firm = forms.CharField(
        label="Float firm", required=False, max_length=80, help_text="Of a float firm’s driver alone."
    )
    phone = forms.CharField(label="Driver’s phone", max_length=40)


class TakenInField(forms.FileField):
    """A picture that is wanted, and taken in before the form is read: the kept photo beside it is what counts."""

    def clean(self, data: object, initial: object = None) -> None:
        return None


class LeaveForm(SidesForm):
    fuel_eighths = forms.TypedChoiceField(
        label="Fuel, eighths",
        coerce=int,
        choices=[("", "Read the gauge")] + [(n, f"{n} of 8") for n in range(9)],
    )
    condition_words = forms.CharField(
        label="Marks and damage you see", max_length=240, help_text="None? Type: none."
    )
    limits_accepted = forms.BooleanField(label="I read the limits above and accept them", required=False)
    signed_name = forms.CharField(required=False, max_length=80)
    strokes = forms.CharField(required=False, max_length=400_000)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key in SIDES:
            side = self.fields[f"side_{key}"]
            self.fields[f"side_{key}"] = TakenInField(label=side.label, widget=side.widget)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for key in SIDES:
            if not typed.get(f"kept_{key}"):
                self.add_error(f"side_{key}", "Photograph the cart from this side.")
        return typed
