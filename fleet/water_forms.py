"""Parsing what is typed of a tank's water and its sanitising; rules live in actions."""

from __future__ import annotations

from django import forms

from fleet.actions.water import SanitisingDetails
from fleet.forms import ABOVE_ZERO, NOT_BELOW, WORDS, YardMoment, bounds
from fleet.water.history import SOURCES


class FillForm(forms.Form):
    source = forms.ChoiceField(
        label="What it carries", choices=[("", "Choose what the tank carries"), *SOURCES.items()]
    )
    filled_at = YardMoment(label="Filled")
    place_words = forms.CharField(
        label="Where", max_length=80, help_text="Standpipe, bore or dam by its name."
    )
    permit_words = forms.CharField(label="Licence or standpipe number", max_length=60, required=False)


class SanitisingForm(forms.Form):
    done_at = YardMoment(label="Done")
    how = forms.CharField(
        label="How the tank was cleaned", max_length=160, help_text="Emptied, scrubbed, hoses and pump too."
    )
    product = forms.CharField(max_length=80, help_text="As on its label, or steam.")
    dose_mg_l = forms.DecimalField(
        label="Dose, mg/L",
        max_digits=7,
        decimal_places=1,
        min_value=0,
        required=False,
        help_text="Leave empty where nothing is dosed.",
        error_messages=bounds(ABOVE_ZERO),
    )
    minutes = forms.IntegerField(
        label="Stood, minutes", min_value=1, max_value=100_000, error_messages=bounds("At least a minute.")
    )
    rinse = forms.CharField(max_length=120, help_text="With what water, how often, run to where.")
    residual_mg_l = forms.DecimalField(
        label="Residual after the rinse, mg/L",
        max_digits=6,
        decimal_places=2,
        min_value=0,
        required=False,
        help_text="Leave empty where it was not measured.",
        error_messages=bounds(NOT_BELOW),
    )
    by_words = forms.CharField(label="Who did it", max_length=80, help_text="Name, and firm if not ours.")

    def details(self) -> SanitisingDetails:
        """What was typed, once the form is valid."""
        return SanitisingDetails(**self.cleaned_data)


class WaterTestForm(forms.Form):
    tested_at = YardMoment(label="Sample taken")
    test_passed = forms.TypedChoiceField(
        label="Result",
        choices=[("yes", "Passed"), ("no", "Failed")],
        coerce=lambda typed: typed == "yes",
        widget=forms.RadioSelect,
    )
    test_words = forms.CharField(
        label="What was tested and found", max_length=160, help_text="Laboratory or kit, report number."
    )


class StrikeForm(forms.Form):
    words = forms.CharField(label="What was wrong with it", max_length=240, widget=WORDS)
