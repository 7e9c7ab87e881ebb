"""Parsing what is typed for a driver; rules live in actions."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from hire.actions.runs import RunWords
from hire.models.agreements import Line
from hire.models.runs import RunNote

# What a new run takes over from the last one to the same place; who drives and when are asked again.
TAKEN_OVER = ("contact_words", "channel_words", "water_point_words")


class DayForm(forms.Form):
    on = forms.DateField(
        label="Day", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def day(self, usual: date) -> date:
        """The day asked for; what is no day counts as not said."""
        found = self.cleaned_data.get("on") if self.is_valid() else None
        return found if found and 2000 <= found.year < 2100 else usual


class RunForm(forms.Form):
    driver_words = forms.CharField(
        label="Driver",
        max_length=80,
        required=False,
        help_text="Who takes it, or that the customer collects it.",
    )
    start = forms.TimeField(
        label="Work starts", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="By the clock of the place of work.",
    )  # fmt: skip
    contact_words = forms.CharField(
        label="Contact there", max_length=120, required=False, help_text="A name and a number."
    )
    channel_words = forms.CharField(label="Radio channel", max_length=40, required=False)
    water_point_words = forms.CharField(label="Water point", max_length=120, required=False)
    float_words = forms.CharField(
        label="Float", max_length=120, required=False, help_text="Whose, and when it loads."
    )
    words = forms.CharField(label="What else the driver has to know", max_length=240, required=False)

    def typed(self) -> RunWords:
        """What was typed, once the form is valid."""
        return RunWords(**self.cleaned_data)

    @classmethod
    def of(cls, line: Line, note: RunNote | None, last: RunNote | None, data: Any) -> RunForm:
        """What is written down; for a new run what was said of this place last. The customer's contact, until somebody names
        another."""
        if note is not None:
            shown = {name: getattr(note, name) for name in cls.base_fields}
        else:
            shown = {name: getattr(last, name, "") for name in TAKEN_OVER}
        customer = line.agreement.customer
        shown["contact_words"] = shown["contact_words"] or f"{customer.contact_name}, {customer.phone}"
        return cls(data, initial=shown)
