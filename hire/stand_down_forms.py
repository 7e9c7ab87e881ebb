"""Parsing what is said of days stood down; rules live in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from hire.actions.stand_downs import StoodDown
from hire.forms import YardMoment
from hire.models.agreements import BREAKDOWN_CAUSES, STAND_DOWN_KINDS

AGREED = [("agreed", "Agreed: stood down"), ("claimed", "Claimed only: we agree or refuse it later")]


def _day(**kwargs: Any) -> forms.DateField:
    return forms.DateField(
        label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs
    )


def _hours(label: str, help_text: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, min_value=Decimal(0), max_value=Decimal(24), max_digits=4, decimal_places=1,
        required=False,
    )  # fmt: skip


class StandDownForm(forms.Form):
    agreed = forms.ChoiceField(
        label="Is it agreed", choices=AGREED, initial="agreed", required=False, widget=forms.RadioSelect
    )
    on = _day()
    kind = forms.ChoiceField(label="What for", choices=STAND_DOWN_KINDS)
    why = forms.CharField(
        label="Why", max_length=120, help_text="As it was told: rain overnight, site shut, pump down."
    )
    told_by_words = forms.CharField(label="Who told us", max_length=120)
    told_at = YardMoment(
        label="When we were told", help_text="It counts against the hour agreed for that day."
    )
    worked_hours = _hours("Hours on the clock that day", "Blank: nobody read it.")
    lost_hours = _hours("Hours lost by a breakdown", "Blank: the whole day.")
    cause = forms.ChoiceField(label="What a breakdown came of", choices=BREAKDOWN_CAUSES, required=False)
    customer_words = forms.CharField(label="What the customer says", max_length=240, required=False)
    yard_words = forms.CharField(label="What we say", max_length=240, required=False)

    def said(self) -> tuple[dict[str, Any], StoodDown]:
        """The day, and what is argued about later (a clean form)."""
        typed = dict(self.cleaned_data)
        day = {name: typed.pop(name) for name in ("on", "kind", "why", "told_by_words")}
        typed.pop("agreed")
        return day, StoodDown(**typed)

    @property
    def is_claim(self) -> bool:
        return bool(self.cleaned_data["agreed"] == "claimed")


class ClaimByLinkForm(forms.Form):
    """What the customer's person says; when they said it is now."""

    on = _day(help_text="A day the cart was with you, or tomorrow.")
    kind = forms.ChoiceField(label="What for", choices=STAND_DOWN_KINDS)
    why = forms.CharField(
        label="What happened", max_length=120, help_text="Rain overnight, site shut, pump down."
    )
    worked_hours = _hours("Hours it worked that day", "Blank: none, or nobody read the clock.")
    lost_hours = _hours("Hours lost by a breakdown", "Blank: the whole day.")
    name = forms.CharField(label="Your name", max_length=120)


class AgreeForm(forms.Form):
    """What the yard found of a claimed day."""

    worked_hours = _hours("Hours on the clock that day", "Blank: nobody read it.")
    lost_hours = _hours("Hours lost by a breakdown", "Blank: the whole day.")
    cause = forms.ChoiceField(label="What a breakdown came of", choices=BREAKDOWN_CAUSES, required=False)
    yard_words = forms.CharField(label="What we say", max_length=240, required=False)
