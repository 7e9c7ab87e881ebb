"""Parsing a hire agreement as it is typed, and one more cart on it; rules live in actions."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.models.carts import Cart
from hire.forms import PeriodForm
from hire.models.agreements import (
    GOES,
    LEAVES_BY,
    PRE_START_BOOKS,
    WATERS,
    WORKS_BY,
    WORKS_ON,
    Agreement,
    shifts_said,
)
from hire.models.customers import Customer
from hire.models.operators import Operator
from hire.week_field import WeekField
from hire.wet_reading import usual_wants, wants_at
from hire.where_forms import SiteWhereForm


def shift_field() -> forms.ChoiceField:
    """How a hire is worked; by day where nobody says."""
    return forms.ChoiceField(
        label="Works by", choices=WORKS_BY, initial="day", required=False, help_text="A pre-start is owed for each shift."
    )  # fmt: skip


def _cart() -> forms.ModelChoiceField[Cart]:
    return forms.ModelChoiceField(Cart.objects.filter(retired_on=None), empty_label="Choose a cart")


def this_cart_field(help_text: str) -> forms.BooleanField:
    return forms.BooleanField(label="This very cart was promised", required=False, help_text=help_text)


def _goes() -> forms.ChoiceField:
    return forms.ChoiceField(label="Wet or dry", choices=GOES, initial="dry", required=False)


def _operator(help_text: str) -> forms.ModelChoiceField[Operator]:
    working = Operator.objects.working().select_related("staff")
    return forms.ModelChoiceField(working, required=False, empty_label="Chosen later", help_text=help_text)


class AgreementForm(SiteWhereForm, PeriodForm):
    customer = forms.ModelChoiceField(Customer.objects.all(), empty_label="Choose a customer")
    cart = _cart()
    is_this_cart = this_cart_field("Where the customer asked for it by its number: no other is proposed.")
    place_of_work = forms.CharField(max_length=120)
    order_number = forms.CharField(max_length=40, required=False)
    leaves_by = forms.ChoiceField(label="How it leaves", choices=LEAVES_BY)
    works_on = forms.ChoiceField(label="Where it works", choices=WORKS_ON)
    pre_start_book = forms.ChoiceField(label="Whose pre-start book", choices=PRE_START_BOOKS)
    shift = shift_field()
    days_in_week = WeekField()
    water = forms.ChoiceField(
        label="Water it carries",
        choices=WATERS,
        initial="any",
        help_text="Potable only: the cart’s tank must have carried nothing else, and be sanitised and tested.",
    )
    goes = _goes()
    operator = _operator(
        "Of wet hire, for all of it. What was last asked for at this place is asked again, else the induction."
    )
    field_order = (
        "customer", "cart", "is_this_cart", "starts_at", "ends_at", "place_of_work", "order_number", "leaves_by", "works_on",
        "water", "goes", "operator", "pre_start_book", "shift", "days_in_week", "time_zone", "holiday_region", "rule_set",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone = self.fields["time_zone"]
        zone.help_text += " Blank: as the set of its site says, else the yard’s. The two times above are by the yard’s clock."

    def agreed(self) -> dict[str, Any]:
        """What was typed, as the agreement is made of it."""
        typed = dict(self.cleaned_data)
        is_wet, shifts = typed.pop("goes") == "wet", shifts_said(typed.pop("shift") or "day")
        wants = wants_at(typed["customer"], typed["place_of_work"]) if is_wet else None
        return typed | shifts | {"wants": wants}


class OneMoreForm(PeriodForm):
    """One more cart on an agreement, which says the rest."""

    cart = _cart()
    is_this_cart = this_cart_field("Where the customer asked for it by its number: no other is proposed.")
    goes = _goes()
    operator = _operator("Of wet hire, for all of it, as the first cart’s site asks.")
    field_order = ("cart", "is_this_cart", "starts_at", "ends_at", "goes", "operator")

    def added(self, agreement: Agreement) -> dict[str, Any]:
        """What was typed, as the cart is put on the agreement."""
        typed = dict(self.cleaned_data)
        if typed.pop("goes") != "wet":
            return typed | {"wants": None}
        wants = usual_wants(agreement)
        return typed | {
            "wants": wants_at(agreement.customer, agreement.place_of_work) if wants is None else wants
        }
