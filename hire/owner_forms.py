"""Parsing what is typed of owners and of carts hired in; rules live in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from fleet.models.carts import Cart
from hire.actions.hired_in import OwnerTerms
from hire.forms import YardMoment
from hire.models.owners import PAPER_KINDS, HireIn, Owner
from people.yard import yard_policy


class OwnerForm(forms.Form):
    name = forms.CharField(label="Owner", max_length=80)
    contact_name = forms.CharField(label="Contact", max_length=80)
    phone = forms.CharField(max_length=30, widget=forms.TextInput(attrs={"type": "tel"}))
    email = forms.EmailField(required=False)


class OwnerPaperForm(forms.Form):
    kind = forms.ChoiceField(label="Paper", choices=[("", "Choose a paper"), *PAPER_KINDS])
    number = forms.CharField(max_length=40, required=False)
    expires_on = forms.DateField(
        label="Good until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The last day it is good. Leave empty if it never lapses.",
    )


def _price(label: str, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(label=label, min_value=Decimal(0), max_digits=9, decimal_places=2, **kwargs)


class HireInTermsForm(forms.Form):
    """What was agreed with an owner."""

    starts_at = YardMoment(label="Ours from")
    ends_at = YardMoment(
        label="Until", help_text="As the owner agreed. The owner’s clock runs on until you call."
    )
    day_price = _price("A day")
    week_price = _price("A week", required=False, help_text="Blank: the owner has no such rate.")
    four_weeks_price = _price("4 weeks", required=False)
    minimum_days = forms.IntegerField(
        label="Minimum, days",
        min_value=0,
        max_value=366,
        required=False,
        help_text="Every calendar day counts.",
    )
    cut_off = forms.TimeField(
        label="The owner’s cut-off",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="Called off from this hour on, one day more is charged.",
    )
    order_number = forms.CharField(label="Our order number", max_length=40, required=False)
    words = forms.CharField(label="What else was agreed", max_length=240, required=False)

    def terms(self) -> OwnerTerms:
        """What was typed, once the form is valid."""
        typed = {name: self.cleaned_data[name] for name in OwnerTerms.__dataclass_fields__}
        return OwnerTerms(**typed | {"minimum_days": typed["minimum_days"] or 0})

    @classmethod
    def of(cls, hire_in: HireIn, data: Any) -> HireInTermsForm:
        shown = {name: getattr(hire_in, name) for name in OwnerTerms.__dataclass_fields__}
        span = {"starts_at": hire_in.period.lower, "ends_at": hire_in.period.upper}
        return cls(data, initial=span | shown)


class HireInForm(HireInTermsForm):
    owner = forms.ModelChoiceField(Owner.objects.all(), empty_label="Choose the owner")
    cart = forms.ModelChoiceField(Cart.objects.filter(retired_on=None), empty_label="Choose the cart")
    field_order = ("owner", "cart")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cut_off"].initial = yard_policy().off_hire_cut_off


class OwnerCallForm(forms.Form):
    called_at = YardMoment(label="When we called")
    called_to_words = forms.CharField(
        label="Who took it, and their number for it",
        max_length=120,
        help_text="A name, and the off-hire number they gave.",
    )


class ReturnForm(forms.Form):
    returned_at = YardMoment(label="When its owner had it back")
