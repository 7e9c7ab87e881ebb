"""Parsing a load as it is tapped or typed; rules live in the action."""

from __future__ import annotations

from django import forms

from fleet.forms import ABOVE_ZERO, YardMoment, bounds


class TapForm(forms.Form):
    load_id = forms.UUIDField(widget=forms.HiddenInput)
    fill_point = forms.CharField(
        label="Fill point", max_length=80, help_text="Standpipe, bore or dam by its name."
    )
    litres = forms.IntegerField(
        label="Litres", min_value=1, max_value=100_000, error_messages=bounds(ABOVE_ZERO)
    )


class LoadForm(TapForm):
    """What the yard puts down may be told late."""

    taken_at = YardMoment(label="When")


class DayForm(forms.Form):
    day = forms.DateField(required=False)
