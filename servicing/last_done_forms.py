"""Parsing the list of what was last done: a row a cart. A row left empty is left alone."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django import forms
from django.core.validators import MinValueValidator
from django.http import QueryDict

from fleet.forms import NOT_BELOW, DayInput, bounds
from fleet.models.carts import Cart
from people.refusals import Refusal
from servicing.last_done_actions import LastDone

# A year typed in two figures is taken by browsers for one of the first century.
FIRST_DAY = MinValueValidator(date(1970, 1, 1), "Give the year in full, as in 2026.")
LABELS = {"on": "Day", "engine_hours": "Engine hours", "km": "Km"}


def _figure() -> forms.DecimalField:
    return forms.DecimalField(
        required=False, min_value=0, max_digits=10, decimal_places=1, error_messages=bounds(NOT_BELOW),
        widget=forms.NumberInput(attrs={"inputmode": "decimal"}),
    )  # fmt: skip


class LastDoneForm(forms.Form):
    on = forms.DateField(required=False, widget=DayInput(), validators=[FIRST_DAY])
    engine_hours = _figure()
    km = _figure()

    def __init__(self, data: QueryDict | None, *, cart: Cart, kinds: Collection[str]) -> None:
        super().__init__(data, prefix=str(cart.pk))
        self.cart = cart
        for name, label in LABELS.items():
            if name != "on" and name not in kinds:
                del self.fields[name]
                continue
            self.fields[name].widget.attrs["aria-label"] = f"{label}, cart {cart.fleet_number}"

    @property
    def is_filled(self) -> bool:
        return any(self.data.get(self.add_prefix(name), "").strip() for name in self.fields)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if self.is_filled and typed.get("on") is None and "on" not in self.errors:
            self.add_error("on", f"Give the day it was done on cart {self.cart.fleet_number}.")
        return typed

    def row(self) -> LastDone:
        """What was typed, once the form is valid."""
        return LastDone(self.cart.pk, **self.cleaned_data)

    def refuse(self, no: Refusal) -> None:
        field = "on" if no.field == "done_at" else no.field
        self.add_error(field if field in self.fields else "on", no.sentence)

    @property
    def faults(self) -> list[tuple[str, list[str]]]:
        """(id of the field, its sentences), each naming the cart."""
        return [
            (self[name].auto_id, [self._named(str(one)) for one in told])
            for name, told in self.errors.items()
        ]

    def _named(self, sentence: str) -> str:
        here = f"Cart {self.cart.fleet_number}"
        return sentence if here.lower() in sentence.lower() else f"{here}: {sentence}"


class WhoForm(forms.Form):
    by_words = forms.CharField(
        label="Who did them", required=False, max_length=120, help_text="Where it was not you: name and firm."
    )
