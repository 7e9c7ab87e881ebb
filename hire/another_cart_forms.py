"""Choosing another cart for a hire that has not left; whether it may be had is the action's to say."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.models.carts import Cart
from hire.models.agreements import Line
from hire.swap_carts import Choice, cart_choices


class AnotherCartForm(forms.Form):
    cart = forms.ModelChoiceField(Cart.objects.filter(retired_on=None), label="Send")
    why = forms.CharField(
        label="Why", max_length=240, help_text="It is kept in the journals of both carts; no customer reads it."
    )  # fmt: skip
    # The cart that was looked at: whoever comes second on one hire is told.
    instead_of = forms.ModelChoiceField(Cart.objects.all(), widget=forms.HiddenInput)

    def __init__(self, *args: Any, free: list[Choice], line: Line, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cart"].widget.choices = cart_choices(free)
        words = (
            "Free for the same period; those that have what is asked and may go come first."
            if free
            else "No other cart is free for this period. Change the period, or hire one in."
        )
        if line.is_this_cart:
            words += f" {line.cart.fleet_number} was promised by its number: ask {line.agreement.customer.name} first."
        self.fields["cart"].help_text = words
