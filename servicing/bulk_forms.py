"""Parsing what is asked for the ticked defects."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from people.models import Staff
from servicing.forms import DayInput, hands

# What each act wants filled in.
WANTS = {"assign": ("person",), "date": ("due_on",), "put_off": ("until", "because"), "print": ()}


class TogetherForm(forms.Form):
    act = forms.ChoiceField(choices=[(act, act) for act in WANTS], widget=forms.HiddenInput)
    person = forms.ModelChoiceField(
        Staff.objects.none(), label="Person", required=False, empty_label="Choose a person"
    )
    due_on = forms.DateField(label="Repair by", required=False, widget=DayInput())
    until = forms.DateField(label="Until", required=False, widget=DayInput())
    because = forms.CharField(label="Because", required=False, max_length=200)

    use_required_attribute = False

    def __init__(self, data: QueryDict | None = None) -> None:
        super().__init__(data, auto_id="together_%s")
        self.fields["person"].queryset = hands()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        for name in WANTS.get(typed.get("act", ""), ()):
            if not typed.get(name) and name not in self.errors:
                self.add_error(
                    name, f"Fill in “{str(self.fields[name].label).lower()}” for what you pressed."
                )
        return typed
