"""Parsing a daily docket as it is typed on a phone; rules live in actions."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.http import QueryDict

from fleet.water.history import SOURCES
from hire.actions.daily import Day, Signed
from hire.models.operators import Operator

SIGNED, NOBODY = "signed", "nobody"


def _hours(label: str, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(0), max_value=Decimal(24), max_digits=4, decimal_places=2, required=False, **kwargs
    )  # fmt: skip


def _clock(label: str, **kwargs: Any) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, widget=widget, required=False, **kwargs)


class SignForm(forms.Form):
    """The name and the strokes of js/signature.js, drawn by components/signature.html."""

    signed_name = forms.CharField(label="Full name", required=False, max_length=80)
    strokes = forms.CharField(required=False, max_length=400_000)

    def signed(self) -> Signed:
        return Signed(self.cleaned_data["signed_name"], self.cleaned_data["strokes"])


class DailyForm(SignForm):
    operator = forms.ModelChoiceField(Operator.objects.select_related("staff"), empty_label=None)
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    start = _clock("Start")
    finish = _clock("Finish", help_text="Before the start: it is the next day’s.")
    break_minutes = forms.IntegerField(label="Breaks, minutes", min_value=0, max_value=720, required=False)
    travel_hours = _hours("Travel, hours")
    is_night = forms.BooleanField(label="Night shift", required=False)
    standby_hours = _hours("Stood by, hours", help_text="Of the hours worked.")
    standby_why = forms.CharField(label="Why it stood by", max_length=120, required=False)
    loads = forms.IntegerField(min_value=0, max_value=200, required=False)
    water_words = forms.CharField(
        label="Water points", max_length=240, required=False, help_text="Where it was filled."
    )
    water_source = forms.ChoiceField(
        label="What water",
        choices=[("", "Nobody says"), *SOURCES.items()],
        required=False,
        help_text="The worst where there were several.",
    )
    fuel_l = forms.DecimalField(
        label="Fuel put in, litres", min_value=Decimal(0), max_digits=6, decimal_places=1, required=False
    )
    cancelled_late = forms.BooleanField(
        label="Cancelled late: nobody worked",
        required=False,
        help_text="When this is ticked, leave start and finish blank.",
    )
    words = forms.CharField(
        label="What else", max_length=240, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    why = forms.CharField(label="What was wrong in the docket before", max_length=240)
    mode = forms.ChoiceField(
        label="Who signs",
        choices=[(SIGNED, "The customer’s person"), (NOBODY, "Nobody is there to sign")],
        widget=forms.RadioSelect,
    )
    nobody_why = forms.CharField(label="Why nobody signs", max_length=160, required=False)

    def __init__(
        self, *args: Any, operators: Iterable[Operator], zone: ZoneInfo, replaces: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.zone = zone
        offered = list(operators)
        self.fields["operator"].queryset = Operator.objects.filter(pk__in=[one.pk for one in offered])  # type: ignore[attr-defined]
        self.fields["operator"].widget.choices = [(one.pk, str(one)) for one in offered]
        if len(offered) == 1:
            # There is nothing to choose: the one goes along.
            self.fields["operator"].widget = forms.HiddenInput()
            self.initial["operator"] = offered[0].pk
        if not replaces:
            del self.fields["why"]
        is_worked = "cancelled_late" not in self.data
        for name in ("start", "finish"):
            self.fields[name].required = is_worked

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if typed.get("mode") == NOBODY and not typed.get("nobody_why"):
            self.add_error("nobody_why", "Say why nobody is there to sign.")
        return typed

    def day(self) -> Day:
        typed = self.cleaned_data
        starts_at = _instant(typed["on"], typed["start"], self.zone)
        finishes_at = _instant(typed["on"], typed["finish"], self.zone)
        if starts_at and finishes_at and typed["finish"] <= typed["start"]:
            finishes_at = _instant(typed["on"] + timedelta(days=1), typed["finish"], self.zone)
        return Day(
            on=typed["on"],
            starts_at=starts_at,
            finishes_at=finishes_at,
            breaks=timedelta(minutes=typed["break_minutes"] or 0),
            travel_hours=typed["travel_hours"] or Decimal(0),
            is_night=typed["is_night"],
            standby_hours=typed["standby_hours"] or Decimal(0),
            standby_why=typed["standby_why"],
            loads=typed["loads"] or 0,
            water_words=typed["water_words"],
            water_source=typed["water_source"],
            fuel_l=typed["fuel_l"] or Decimal(0),
            cancelled_late=typed["cancelled_late"],
            words=typed["words"],
        )

    def signed(self) -> Signed:
        if self.cleaned_data["mode"] == NOBODY:
            return Signed(nobody_why=self.cleaned_data["nobody_why"])
        return super().signed()


def _instant(on: date, clock: time | None, zone: ZoneInfo) -> datetime | None:
    return None if clock is None else datetime.combine(on, clock, zone).astimezone(UTC)


class DailyFilter(forms.Form):
    hire = forms.CharField(
        label="Hire or cart ",
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"type": "search", "size": "12"}),
    )
    operator = forms.ModelChoiceField(
        Operator.objects.select_related("staff"), required=False, empty_label="Any operator"
    )
    day = forms.DateField(required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    signed = forms.ChoiceField(
        label="Signed ", required=False, choices=[("", "Any"), ("no", "Not signed"), ("yes", "Signed")]
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")
