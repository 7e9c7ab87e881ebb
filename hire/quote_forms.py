"""Parsing a quote as the desk writes it: whom it is for, and the terms chosen for it; rules live in actions."""

from __future__ import annotations

from typing import Any

from django import forms

from hire.actions.quotes import Recipient
from hire.charging.carriage import FIELDS as CARRIAGE_FIELDS
from hire.money_forms import RULES, TermsForm
from hire.quote_body import Offer
from hire.rate_forms import WayAgreed, price_field
from hire.wet_text import WET_FIELDS

GROUP = (
    "The quote",
    ("to_name", "phone", "email", "send", "rule", "valid_until", "deposit", "words", "not_included"),
)
# Every quote names it: asked before the rest of the terms.
DELIVERY = "Delivery"


class QuoteForm(WayAgreed, TermsForm):
    """The hidden id is made with the page, so that one form sent twice is one quote."""

    form_id = forms.UUIDField(widget=forms.HiddenInput)
    to_name = forms.CharField(label="For whom", max_length=80)
    phone = forms.CharField(label="Phone", max_length=30, required=False)
    email = forms.EmailField(label="Email", required=False)
    send = forms.BooleanField(label="Send it there by email", required=False)
    rule = forms.ChoiceField(
        label="Rate rule",
        choices=RULES,
        error_messages={"required": "Choose it with the customer: nothing is taken for granted."},
    )
    valid_until = forms.DateField(
        label="Stands until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), help_text="That day too."
    )  # fmt: skip
    deposit = price_field("Deposit asked", help_text="Printed after the tax. Blank: none.")
    words = forms.CharField(label="What else was said", max_length=240, required=False)
    not_included = forms.CharField(
        label="Not included", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, is_wet: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_wet:
            self.fields["rates"].required = False
        else:
            for name in WET_FIELDS:
                del self.fields[name]
        self.order_fields([*GROUP[1], *CARRIAGE_FIELDS, *(self.field_order or ())])

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Its fields under plain headings, what is chosen for this quote first; those of the terms less it."""
        title, names = GROUP
        rest = {head: [one for one in fields if one.name not in names] for head, fields in super().groups()}
        first = [(title, [self[name] for name in names]), (DELIVERY, rest.pop(DELIVERY))]
        return [*first, *((head, fields) for head, fields in rest.items() if fields)]

    def recipient(self) -> Recipient:
        """Only of a form that is valid."""
        typed = self.cleaned_data
        return Recipient(typed["to_name"], typed["phone"], typed["email"])

    def offer(self) -> Offer:
        """Only of a form that is valid."""
        typed = self.cleaned_data
        return Offer(
            typed["rule"],
            typed,
            typed["valid_until"],
            typed["deposit"],
            typed["words"],
            typed["not_included"],
        )


class QuoteLetterForm(forms.Form):
    to_name = forms.CharField(label="To whom", max_length=80)
    email = forms.EmailField(label="Email")

    def recipient(self) -> Recipient:
        return Recipient(self.cleaned_data["to_name"], email=self.cleaned_data["email"])
