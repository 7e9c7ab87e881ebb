"""What the board of carts is narrowed by. It lives in the address; a word nobody offers narrows nothing."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.gear import GEAR
from fleet.models.carts import WHERE_KINDS
from fleet.querysets import CartQuerySet

STANDS = [
    ("", "Any"),
    ("stopped", "Tagged out or do not use"),
    ("limits", "Goes with limits or by authority"),
    ("defects", "Has open defects"),
    ("left", "Left the fleet"),
]


class CartFilter(forms.Form):
    q = forms.CharField(
        label="Number or plate",
        required=False,
        max_length=12,
        widget=forms.TextInput(attrs={"type": "search", "size": "10"}),
    )
    where = forms.ChoiceField(required=False, choices=[("", "Anywhere"), *WHERE_KINDS])
    stands = forms.ChoiceField(label="How it stands", required=False, choices=STANDS)
    gear = forms.ChoiceField(
        label="With",
        required=False,
        choices=[("", "Any gear"), *sorted(GEAR.items(), key=lambda item: item[1])],
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")

    def chosen(self, name: str) -> Any:
        """What was chosen, or "" for nothing and for a word nobody offers."""
        return "" if name in self.errors else self.cleaned_data[name]

    @property
    def is_narrowed(self) -> bool:
        return any(self.chosen(name) for name in self.fields)

    def narrow(self, carts: CartQuerySet, *, on: date) -> CartQuerySet:
        """The carts that fit, by fleet number. Only the facts that stand in the database narrow: whether a cart may go is
        worked out for the page shown."""
        stands = self.chosen("stands")
        carts = carts.left_fleet(on=on) if stands == "left" else carts.in_fleet(on=on)
        if stands == "stopped":
            carts = carts.told_to_stop()
        elif stands == "limits":
            carts = carts.let_go()
        elif stands == "defects":
            carts = carts.with_open_defects()
        if where := self.chosen("where"):
            carts = carts.filter(where_kind=where)
        if gear := self.chosen("gear"):
            carts = carts.with_gear(gear)
        if words := self.chosen("q"):
            carts = carts.found_by(words)
        return carts.order_by("fleet_number", "pk")
