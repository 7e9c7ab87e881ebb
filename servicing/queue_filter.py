"""What the queue is narrowed by, kept in its address."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.models.carts import Cart
from fleet.models.defects import CLOSED_STATES, GRADES, STATES, Defect
from fleet.querysets import DefectQuerySet
from people.models import Staff
from servicing.forms import PLACES, hands
from servicing.returning import returning

OPEN_STATES = [(key, label) for key, label in STATES if key not in CLOSED_STATES]


class QueueFilter(forms.Form):
    """What the queue is narrowed by. A word nobody offers narrows nothing."""

    grade = forms.ChoiceField(required=False, choices=[("", "All grades"), *GRADES])
    state = forms.ChoiceField(required=False, label="Stands", choices=[("", "Anywhere"), *OPEN_STATES])
    person = forms.ModelChoiceField(
        Staff.objects.none(), required=False, label="Whose job", empty_label="Anybody’s"
    )
    mine = forms.BooleanField(required=False, label="Mine")
    station = forms.ChoiceField(required=False, label="Where", choices=[("", "Anywhere on it"), *PLACES])
    returning = forms.BooleanField(required=False, label="Came back")
    # The fault of a pattern, asked for from its line.
    check = forms.CharField(required=False, max_length=80, widget=forms.HiddenInput)
    cart = forms.CharField(
        required=False, max_length=12, widget=forms.TextInput(attrs={"type": "search", "size": "10"})
    )

    def __init__(self, data: QueryDict, *, reader: Staff, on: date) -> None:
        super().__init__(data, auto_id="narrow_%s")
        self.reader, self.on = reader, on
        self.fields["person"].queryset = hands()  # type: ignore[attr-defined]

    def chosen(self, name: str) -> Any:
        """What was chosen, or None for nothing and for a word nobody offers."""
        return None if name in self.errors else self.cleaned_data[name] or None

    def narrow(self) -> DefectQuerySet:
        """The open defects asked for. What is put off is away until its day, unless it is asked for."""
        state = self.chosen("state")
        defects = Defect.objects.open() if state == "put_off" else Defect.objects.in_queue(on=self.on)
        wanted = {
            "grade": self.chosen("grade"),
            "state": state,
            "assigned_to": self.reader if self.chosen("mine") else self.chosen("person"),
            "station": self.chosen("station"),
            "check_key": self.chosen("check"),
        }
        defects = defects.filter(**{name: value for name, value in wanted.items() if value})
        if words := self.chosen("cart"):
            defects = defects.filter(cart__in=Cart.objects.found_by(words).values("pk"))
        return returning(defects) if self.chosen("returning") else defects
