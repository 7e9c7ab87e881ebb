"""What the alerts are narrowed by, and what is typed about them; rules live in actions."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.alerts.models import RANKS, AlertQuerySet
from fleet.alerts.rules import heading_of, rule_names
from fleet.forms import WORDS, DayInput, YardMoment
from people.models import Staff
from people.yard import yard_day

SHOWN = [("", "Asking now"), ("aside", "Set aside"), ("cleared", "Cleared in the last 7 days")]
CLEARED_FOR = timedelta(days=7)
PLACES = [(1, "First"), (2, "Second"), (3, "Third")]


class AlertFilter(forms.Form):
    """It lives in the address; a word nobody offers narrows nothing."""

    shown = forms.ChoiceField(label="Show", required=False, choices=SHOWN)
    rank = forms.ChoiceField(required=False, choices=[("", "All ranks"), *RANKS])
    rule = forms.ChoiceField(label="About", required=False)
    cart = forms.CharField(
        required=False, max_length=12, widget=forms.TextInput(attrs={"type": "search", "size": "10"})
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")
        named = sorted((heading_of(name), name) for name in rule_names())
        self.fields["rule"].choices = [("", "Everything"), *((name, words) for words, name in named)]  # type: ignore[attr-defined]

    def chosen(self, name: str) -> Any:
        """What was chosen, or "" for nothing and for a word nobody offers."""
        return "" if name in self.errors else self.cleaned_data[name]

    @property
    def is_narrowed(self) -> bool:
        return any(self.chosen(name) for name in self.fields)

    def narrow(self, alerts: AlertQuerySet, *, at: datetime) -> AlertQuerySet:
        on, shown = yard_day(at), self.chosen("shown")
        if shown == "aside":
            alerts = alerts.set_aside(on=on)
        elif shown == "cleared":
            alerts = alerts.cleared_since(at - CLEARED_FOR)
        else:
            alerts = alerts.asking(on=on)
        if rank := self.chosen("rank"):
            alerts = alerts.filter(rank=rank)
        if rule := self.chosen("rule"):
            alerts = alerts.filter(rule=rule)
        if cart := self.chosen("cart").replace("\x00", "").strip():
            alerts = alerts.filter(cart__fleet_number__icontains=cart)
        return alerts


class AsideForm(forms.Form):
    until = forms.DateField(
        label="Until", widget=DayInput(), help_text="It asks again by itself on that day."
    )
    because = forms.CharField(label="Because", max_length=240, widget=WORDS)


class OnCallForm(forms.Form):
    person = forms.ModelChoiceField(Staff.objects.none(), empty_label="Choose somebody")
    starts_at = YardMoment(label="From")
    ends_at = YardMoment(label="Until")
    place = forms.TypedChoiceField(label="Called", choices=PLACES, coerce=int)

    def __init__(self, data: QueryDict | None) -> None:
        super().__init__(data)
        self.fields["person"].queryset = Staff.objects.filter(is_active=True).order_by("full_name")  # type: ignore[attr-defined]
