"""Which figures are asked for: the period, by cart or by class, and the order. All of it lives in the address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict

from people.templatetags.screen import day_year
from people.yard import day_bounds
from servicing.intervals import add_months

PERIODS = [
    ("month", "This month"),
    ("3", "Last 3 months"),
    ("12", "Last 12 months"),
    ("own", "From and to, as given"),
]
BY = [("cart", "Each cart"), ("class", "Each class")]


@dataclass(frozen=True)
class Asked:
    """A period as half-open instants, never past the moment it is asked at, and its words."""

    start: datetime
    end: datetime
    words: str


class FiguresForm(forms.Form):
    period = forms.ChoiceField(choices=PERIODS, required=False)
    since = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    by = forms.ChoiceField(label="For", choices=BY, required=False)
    of = forms.ChoiceField(label="Class", required=False)
    sort = forms.CharField(required=False, widget=forms.HiddenInput())

    def __init__(self, data: QueryDict, *, on: date, classes: Iterable[str]) -> None:
        asked = data.copy()
        asked.setdefault("period", "month")
        asked.setdefault("by", "cart")
        super().__init__(asked, auto_id="narrow_%s")
        self.on = on
        offered = forms.ChoiceField(label="Class", required=False, choices=[("", "Any class")])
        offered.choices = [("", "Any class"), *((words, words) for words in classes)]
        self.fields["of"] = offered

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if typed.get("period") != "own" or self.errors:
            return typed
        first, last = typed.get("since"), typed.get("until") or self.on
        if first is None:
            self.add_error("since", "Give the first day.")
        elif first > self.on:
            self.add_error("since", "That day is still to come: there are no figures for it yet.")
        elif last < first:
            self.add_error("until", "The last day comes before the first. Change one of them.")
        elif first.year < 2000:
            self.add_error("since", "Give a year from 2000 on.")
        return typed

    def chosen(self, name: str, default: str = "") -> str:
        return str(self.cleaned_data.get(name) or default)

    def asked(self, *, at: datetime) -> Asked:
        """The period of a sound form."""
        period = self.chosen("period", "month")
        last = self.on
        if period == "own":
            first, last = self.cleaned_data["since"], min(self.cleaned_data["until"] or self.on, self.on)
        elif period == "month":
            first = self.on.replace(day=1)
        else:
            first = add_months(self.on, -int(period)) + timedelta(days=1)
        start, end = day_bounds(first)[0], min(day_bounds(last)[1], at)
        return Asked(start, end, f"{day_year(first)} to {day_year(last)}")
