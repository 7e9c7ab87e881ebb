"""Parsing what a caller asks, the booking made of it, and the pencil that keeps a cart; rules live in suiting and in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from hire.agreement_forms import shift_field
from hire.forms import PeriodForm, YardMoment
from hire.models.agreements import GOES, LEAVES_BY, PRE_START_BOOKS, WATERS, WORKS_BY, WORKS_ON, shifts_said
from hire.models.customers import Customer
from hire.needs_forms import NeedsForm
from hire.suiting import Enquiry
from hire.week_field import WeekField

# Beside another field; the agreement's own form has the room to say who drives.
GOES_SHORT = [("dry", "Dry hire"), ("wet", "Wet hire")]
# Asked of wet hire alone; the page shows them once it is chosen.
WET_ALONE = ("hours_a_day", "travel_hours")


class EnquiryForm(NeedsForm, PeriodForm):
    """A GET form: what was asked stays in the address."""

    leaves_by = forms.ChoiceField(label="How it leaves", choices=LEAVES_BY)
    works_on = forms.ChoiceField(label="Where it works", choices=WORKS_ON)
    water = forms.ChoiceField(label="Water", choices=WATERS, required=False)
    goes = forms.ChoiceField(
        label="Wet or dry", choices=GOES_SHORT, initial="dry", required=False,
        help_text="Wet: priced by the hour, with who of our operators is free.",
    )  # fmt: skip
    shift = forms.ChoiceField(
        label="Works by", choices=WORKS_BY, initial="day", required=False,
        help_text="Day and night: two shifts a day, priced so; wet, an operator for each.",
    )  # fmt: skip
    hours_a_day = forms.DecimalField(
        label="Hours a shift, wet hire", min_value=0, max_value=24, max_digits=4, decimal_places=2, required=False,
        help_text="Blank: the hours the rate charges at least.",
    )  # fmt: skip
    travel_hours = forms.DecimalField(
        label="Hours of travel a shift", min_value=0, max_value=24, max_digits=4, decimal_places=2, required=False,
        help_text="There and back, for each operator. Blank: none.",
    )  # fmt: skip
    place_of_work = forms.CharField(label="Place of work", max_length=120, required=False)
    customer = forms.ModelChoiceField(
        Customer.objects.all(), empty_label="Not said", required=False,
        help_text="Carts are then compared with what their site asks.",
    )  # fmt: skip
    field_order: tuple[str, ...] = (
        "litres", "road_litres", "starts_at", "ends_at", "goes", "shift", *WET_ALONE, "customer", "place_of_work", "leaves_by",
        "works_on", "water", "drive_axles", "gear",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if not self.errors and typed["ends_at"] <= typed["starts_at"]:
            self.add_error("ends_at", "The hire ends before it starts. Correct one of the two times.")
        return typed

    def enquiry(self) -> Enquiry:
        """What is asked; only of a form that is valid."""
        typed = self.cleaned_data
        is_wet = typed["goes"] == "wet"
        return Enquiry(
            start=typed["starts_at"], end=typed["ends_at"], litres=typed["litres"] or 0, gear=frozenset(typed["gear"]),
            drive_axles=typed["drive_axles"] or 0, leaves_by=typed["leaves_by"], works_on=typed["works_on"],
            is_potable=typed["water"] == "potable", road_litres=typed["road_litres"] or 0,
            is_wet=is_wet, hours_a_day=typed["hours_a_day"] or Decimal(0), travel_hours=typed["travel_hours"] or Decimal(0),
            shift=typed["shift"] or "day",
        )  # fmt: skip


class BookingForm(EnquiryForm):
    """What was asked, and whose it is: a hire whose cart is chosen later."""

    # The hours are those of its dockets.
    hours_a_day = None  # type: ignore[assignment] # the way a field of the class before is left out
    travel_hours = None  # type: ignore[assignment]
    customer = forms.ModelChoiceField(Customer.objects.all(), empty_label="Choose a customer")
    place_of_work = forms.CharField(label="Place of work", max_length=120)
    order_number = forms.CharField(label="Order number", max_length=40, required=False)
    pre_start_book = forms.ChoiceField(label="Whose pre-start book", choices=PRE_START_BOOKS)
    shift = shift_field()
    days_in_week = WeekField()
    field_order = (
        "customer", "place_of_work", "order_number", "starts_at", "ends_at", "litres", "road_litres", "goes", "leaves_by",
        "works_on", "water", "drive_axles", "pre_start_book", "shift", "days_in_week", "gear",
    )  # fmt: skip

    def booked(self) -> dict[str, Any]:
        """What the action is told; only of a form that is valid."""
        typed = dict(self.cleaned_data)
        is_wet, shifts = typed.pop("goes") == "wet", shifts_said(typed.pop("shift") or "day")
        return typed | shifts | {
            "is_wet": is_wet, "litres": typed["litres"] or 0, "road_litres": typed["road_litres"] or 0,
            "drive_axles": typed["drive_axles"] or 0,
            "water": typed["water"] or "any",
        }  # fmt: skip


class PencilForm(NeedsForm, PeriodForm):
    caller_words = forms.CharField(label="Who asks", max_length=80)
    phone = forms.CharField(label="Phone", max_length=30)
    words = forms.CharField(label="What for", max_length=160, required=False)
    goes = forms.ChoiceField(label="Wet or dry", choices=GOES, initial="dry", required=False)
    shift = shift_field()
    leaves_by = forms.ChoiceField(label="How it leaves", choices=LEAVES_BY, required=False)
    works_on = forms.ChoiceField(label="Where it works", choices=WORKS_ON, required=False)
    water = forms.ChoiceField(label="Water", choices=WATERS, required=False)
    expires_at = YardMoment(label="Keep it until", help_text="Then it lapses by itself.")
    field_order = (
        "caller_words", "phone", "starts_at", "ends_at", "expires_at", "goes", "shift", "words", "leaves_by", "works_on", "water",
        "litres", "road_litres", "drive_axles", "gear",
    )  # fmt: skip

    def kept(self) -> dict[str, Any]:
        """What the action is told; only of a form that is valid."""
        typed, needs = self.without_needs()
        usual = {"leaves_by": "road", "works_on": "road", "water": "any", "shift": "day"}
        typed |= {name: typed[name] or value for name, value in usual.items()}
        return typed | {"is_wet": typed.pop("goes") == "wet", "needs": needs}
