"""Parsing what is typed of operators, their tickets, and who goes with a cart; rules live in actions."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from django import forms

from fleet.forms import WithPhoto
from hire.forms import YardMoment
from hire.licences import CLASSES
from hire.models.customers import Customer
from hire.models.operators import TICKET_KINDS, TURN_SHIFTS, WANTS, Operator
from hire.wet_reading import Choice
from people.models import Staff
from people.yard import yard_policy


def _day(label: str, **kwargs: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, required=False, **kwargs)


class OperatorForm(forms.Form):
    staff = forms.ModelChoiceField(
        Staff.objects.filter(is_active=True),
        label="One of the yard’s people",
        required=False,
        empty_label="From outside: write the name and the firm",
    )
    name = forms.CharField(label="Name", max_length=80, required=False)
    firm = forms.CharField(label="Firm", max_length=80, required=False)
    phone = forms.CharField(
        max_length=30, required=False, widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"})
    )


class TicketForm(WithPhoto):
    kind = forms.ChoiceField(label="What it is", choices=[("", "Choose"), *TICKET_KINDS])
    licence_class = forms.ChoiceField(label="Class of the licence", required=False)
    words = forms.CharField(
        label="What it is for",
        max_length=80,
        required=False,
        help_text="The machine, the kind of work, what the medical is for.",
    )
    number = forms.CharField(label="Number on it", max_length=40, required=False)
    customer = forms.ModelChoiceField(
        Customer.objects.all(), label="Induction for", required=False, empty_label="No induction"
    )
    site = forms.CharField(
        label="At which site",
        max_length=120,
        required=False,
        help_text="As the agreement says the place of work. Blank: all of that customer’s sites.",
    )
    issued_on = _day("Issued")
    ends_on = _day("Last day it is good", help_text="Blank: it does not lapse.")
    field_order = (
        "kind", "licence_class", "words", "number", "customer", "site", "issued_on", "ends_on", "photo", "kept_photo",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["licence_class"]
        field.choices = [("", "No licence"), *CLASSES[yard_policy().rule_set]]  # type: ignore[attr-defined]


class WetForm(forms.Form):
    goes = forms.ChoiceField(
        label="How it goes",
        choices=[("wet", "Wet: with an operator of ours"), ("dry", "Dry: the customer’s own operator")],
        widget=forms.RadioSelect,
    )
    wants = forms.MultipleChoiceField(
        label="What the site asks of the operator",
        choices=WANTS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="A licence for the cart is always asked for.",
    )


class TurnForm(forms.Form):
    operator = forms.ModelChoiceField(Operator.objects.working().select_related("staff"))
    shift = forms.TypedChoiceField(choices=TURN_SHIFTS, coerce=int)
    starts_at = YardMoment(label="From")
    ends_at = YardMoment(label="Until")

    def __init__(self, *args: Any, choices: Iterable[Choice], shifts: Collection[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["operator"].widget.choices = [
            ("", "Choose an operator"),
            *(
                (one.operator.pk, f"{one.operator}. {one.words or 'Nothing stands in the way.'}")
                for one in choices
            ),
        ]
        self.fields["shift"].choices = [one for one in TURN_SHIFTS if one[0] in shifts]  # type: ignore[attr-defined]
