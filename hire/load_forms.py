"""Parsing a load as it is tapped or typed; rules live in the action."""

from __future__ import annotations

from django import forms

from fleet.forms import ABOVE_ZERO, WORDS, YardMoment, bounds
from fleet.water.history import SOURCES

WATER = [("", "Choose what water it is"), *SOURCES.items()]


class TapForm(forms.Form):
    load_id = forms.UUIDField(widget=forms.HiddenInput)
    fill_point = forms.CharField(
        label="Fill point", max_length=80, help_text="Standpipe, bore or dam by its name."
    )
    source = forms.ChoiceField(label="What water", choices=WATER)
    permit_words = forms.CharField(
        label="Licence, standpipe or hydrant number", max_length=60, required=False
    )
    litres = forms.IntegerField(
        label="Litres", min_value=1, max_value=100_000, error_messages=bounds(ABOVE_ZERO)
    )


class LoadForm(TapForm):
    """What the yard puts down may be told late."""

    taken_at = YardMoment(label="When")


class WaterToldForm(forms.Form):
    source = forms.ChoiceField(
        label="What it carried", choices=WATER, help_text="The worst where there were several."
    )
    words = forms.CharField(
        label="Who says so",
        max_length=240,
        required=False,
        widget=WORDS,
        help_text="In the place of another answer, what was wrong with that.",
    )


class DayForm(forms.Form):
    day = forms.DateField(required=False)
