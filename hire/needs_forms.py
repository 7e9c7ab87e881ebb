"""Parsing what is asked of a cart, on every form it goes through from the call to the promise."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.gear import GEAR
from hire.agreement_forms import AgreementForm
from hire.availability import ASKED_GEAR
from hire.models.needs import DRIVES, NEEDS_FIELDS
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.suiting import Needs


class NeedsForm(forms.Form):
    litres = forms.IntegerField(
        label="Litres, at least", min_value=0, max_value=60_000, required=False, help_text="Near will do: 10 % less is shown too."
    )  # fmt: skip
    road_litres = forms.IntegerField(
        label="Litres on a public road, at least", min_value=0, max_value=60_000, required=False,
        help_text="By the road fill on record; a cart without one is left out.",
    )  # fmt: skip
    gear = forms.MultipleChoiceField(
        label="Gear", choices=[(kind, GEAR[kind]) for kind in ASKED_GEAR], required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    drive_axles = forms.TypedChoiceField(label="Driven axles", choices=DRIVES, coerce=int, required=False)

    def without_needs(self) -> tuple[dict[str, Any], Needs]:
        """What was typed beside what the cart must be, and that; only of a form that is valid."""
        typed = dict(self.cleaned_data)
        asked = {name: typed.pop(name) for name in NEEDS_FIELDS}
        return typed, Needs(
            asked["litres"] or 0,
            asked["road_litres"] or 0,
            frozenset(asked["gear"]),
            asked["drive_axles"] or 0,
        )


class PromiseForm(NeedsForm, AgreementForm):
    """A hire agreement with what was asked of its cart."""

    # A tuple of another length is another type.
    field_order = (*AgreementForm.field_order, "litres", "road_litres", "drive_axles", "gear")  # type: ignore[assignment]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The cart is chosen: what was asked is kept with it, and shows nothing.
        self.fields[
            "litres"
        ].help_text = "As it was asked: kept with the hire, for when another cart must go."
        self.fields["road_litres"].help_text = ""
        self.fields["gear"].help_text = "What the job needs. Should it be isolated, the gate stops the cart."

    def agreed(self) -> dict[str, Any]:
        typed = super().agreed()
        _, needs = self.without_needs()
        return {name: value for name, value in typed.items() if name not in NEEDS_FIELDS} | {"needs": needs}


def carried(
    query: QueryDict, names: Iterable[str], pencil: Pencil | None = None, quote: Quote | None = None
) -> dict[str, object]:
    """What a form begins with: what the address carries, and before that what was asked when the cart was pencilled or a quote
    written."""
    found = (pencil.asked() if pencil else {}) | (quote.asked() if quote else {})
    found |= {name: query[name] for name in names if query.get(name)}
    return found | ({"gear": gear} if (gear := query.getlist("gear")) else {})
