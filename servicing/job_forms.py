"""Parsing what is typed on a job sheet and at an extinguisher's exchange."""

from __future__ import annotations

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.models.carts import Cart
from fleet.models.equipment import Extinguisher
from servicing.actions.extinguishers import why_no_spare


class PartForm(forms.Form):
    """The hidden id is made with the page, so that one form sent twice puts down one part."""

    part_id = forms.UUIDField(widget=forms.HiddenInput)
    words = forms.CharField(label="Part", max_length=80, help_text="“Suction hose, 3 inch”.")
    part_number = forms.CharField(label="Part number", required=False, max_length=40)
    quantity = forms.DecimalField(
        label="How many, or how much",
        max_digits=8,
        decimal_places=2,
        initial=Decimal(1),
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    unit_cost = forms.DecimalField(
        label="Cost of one",
        required=False,
        max_digits=10,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        help_text="Left blank where it is not known.",
    )
    taken_from = forms.ModelChoiceField(
        Cart.objects.none(),
        label="Taken off another cart",
        required=False,
        empty_label="No, from the store",
        help_text="That cart is then told as “do not use” until it has the part again.",
    )

    def __init__(self, data: QueryDict | None = None, *, cart: Cart) -> None:
        super().__init__(data, auto_id="part_%s")
        others = Cart.objects.filter(retired_on=None).exclude(pk=cart.pk)
        self.fields["taken_from"].queryset = others  # type: ignore[attr-defined]
        self.initial.setdefault("part_id", uuid.uuid4())


class ExchangeForm(forms.Form):
    spare = forms.ModelChoiceField(
        Extinguisher.objects.none(), label="The spare that goes on", empty_label="Choose one"
    )
    is_used = forms.BooleanField(label="The old one is used or out of the green", required=False)
    condemned_words = forms.CharField(
        label="The old one is at the end of its life because",
        required=False,
        max_length=160,
        help_text="Only where it is. It is kept on record and never goes on a cart again.",
    )

    def __init__(self, *args: Any, old: Extinguisher, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shelf = Extinguisher.objects.filter(cart=None, condemned_at=None).order_by(
            "agent", "size_kg", "serial"
        )
        spare = self.fields["spare"]
        spare.queryset = shelf.prefetch_related("services")  # type: ignore[attr-defined]
        spare.label_from_instance = lambda item: _spare_words(item, old, at=at)  # type: ignore[attr-defined]
        self.initial.setdefault("is_used", old.is_discharged)


def _spare_words(item: Extinguisher, old: Extinguisher, *, at: datetime) -> str:
    """A spare as the list names it, with what stands against it: the action says no, this only warns."""
    against = "not charged or not in date" if why_no_spare(item, at=at) else ""
    other = "" if (item.agent, item.size_kg) == (old.agent, old.size_kg) else "another kind than the old one"
    notes = ", ".join(note for note in (other, against) if note)
    return f"{item} ({notes})" if notes else str(item)


class CondemnForm(forms.Form):
    words = forms.CharField(label="Why it is at the end of its life", max_length=160)
