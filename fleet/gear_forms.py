"""Parsing what is typed of tyres, meters, readings and extinguishers; rules live in actions."""

from __future__ import annotations

from django import forms
from django.http import QueryDict

from fleet.extinguisher_kinds import kinds_for
from fleet.forms import CAPITALS, NOT_BELOW, WORDS, DayInput, YardMoment, bounds
from fleet.models.carts import Cart, Meter
from fleet.models.equipment import AGENTS, Extinguisher
from fleet.models.wheels import WheelPosition


class TyreForm(forms.Form):
    """A tyre by its wall, as it goes on."""

    serial = forms.CharField(max_length=30, widget=forms.TextInput(attrs=CAPITALS))
    make = forms.CharField(max_length=40)
    size = forms.CharField(max_length=24, help_text="As on the wall, 11R22.5")
    load_index = forms.CharField(max_length=12, required=False)
    new_depth_mm = forms.DecimalField(
        label="Tread when new, mm",
        max_digits=4,
        decimal_places=1,
        min_value=0,
        max_value=40,
        error_messages=bounds("A new tyre's tread is above 0 and at most 40 mm deep."),
    )
    made_on = forms.DateField(
        label="Made in the week of",
        required=False,
        widget=DayInput(),
        help_text="By the four figures on the wall.",
    )
    cost = forms.DecimalField(
        label="What it cost, without tax",
        max_digits=8,
        decimal_places=2,
        min_value=0,
        required=False,
        help_text="Leave empty where it is not known.",
        error_messages=bounds("A tyre's price is never below zero."),
    )
    fitted_at = YardMoment(label="Fitted")
    depth_mm = forms.DecimalField(
        label="Tread at fitting, mm",
        max_digits=4,
        decimal_places=1,
        min_value=0,
        required=False,
        error_messages=bounds("A tread depth is never below zero."),
    )


class FitTyreForm(TyreForm):
    position_code = forms.ChoiceField(label="Position")
    is_fresh = forms.TypedChoiceField(
        label="When it went on",
        choices=[
            ("yes", "Now: its nuts are to be checked again"),
            ("no", "It was on the cart already: only the record is new"),
        ],
        coerce=lambda typed: typed == "yes",
        widget=forms.RadioSelect,
    )
    field_order = ("position_code", "is_fresh")

    def __init__(self, data: QueryDict | None, *, positions: list[WheelPosition], **kwargs: object) -> None:
        super().__init__(data, **kwargs)  # type: ignore[arg-type]
        self.fields["position_code"].choices = [  # type: ignore[attr-defined]
            ("", "Choose a position"),
            *((row.code, f"{row.code}, {row.words}") for row in positions),
        ]


class TakeOffForm(forms.Form):
    taken_off_at = YardMoment(label="Came off")
    words = forms.CharField(label="Why", max_length=240, required=False)


class MeterForm(forms.Form):
    kind = forms.ChoiceField(label="Meter", choices=[("", "Choose a meter"), *Meter.KINDS])
    changed_at = YardMoment(label="Fitted")
    last_value = forms.DecimalField(
        label="The old meter showed",
        max_digits=10,
        decimal_places=1,
        required=False,
        help_text="Leave empty where there was none, or it could not be read.",
    )
    first_value = forms.DecimalField(label="The new meter shows", max_digits=10, decimal_places=1)
    words = forms.CharField(label="Why", max_length=240, required=False)


class SettleForm(forms.Form):
    is_right = forms.TypedChoiceField(
        label="Is this reading right?",
        choices=[
            ("yes", "Right: it counts, and what cannot stand beside it goes"),
            ("no", "Wrong: it stays on record and never counts"),
        ],
        coerce=lambda typed: typed == "yes",
        widget=forms.RadioSelect,
    )
    words = forms.CharField(label="How you know", max_length=240, widget=WORDS)


class PlateForm(forms.Form):
    """An extinguisher by its plate."""

    serial = forms.CharField(max_length=30, widget=forms.TextInput(attrs=CAPITALS))
    agent = forms.ChoiceField(label="What is in it", choices=AGENTS)
    size_kg = forms.DecimalField(
        label="Size, kg",
        max_digits=4,
        decimal_places=1,
        min_value=0,
        initial=9,
        error_messages=bounds(NOT_BELOW),
    )
    made_on = forms.DateField(
        label="Made", widget=DayInput(), help_text="By its plate; the first of the month will do."
    )


class PlaceExtinguisherForm(PlateForm):
    bracket = forms.CharField(max_length=60, help_text="Where it is: cab, left of the seat.")
    instead_of = forms.ModelChoiceField(
        Extinguisher.objects.none(),
        label="It is there instead of",
        required=False,
        empty_label="None: it is one more",
    )

    def __init__(self, data: QueryDict | None, *, cart: Cart, **kwargs: object) -> None:
        super().__init__(data, **kwargs)  # type: ignore[arg-type]
        self.fields["instead_of"].queryset = Extinguisher.objects.filter(cart=cart)  # type: ignore[attr-defined]


class ServiceForm(forms.Form):
    kind = forms.ChoiceField(label="Service", widget=forms.RadioSelect)
    on = forms.DateField(label="Stamped", widget=DayInput())
    by_words = forms.CharField(label="Who did it", max_length=80, help_text="Name and firm, as on the tag.")

    def __init__(self, data: QueryDict | None, *, extinguisher: Extinguisher, **kwargs: object) -> None:
        super().__init__(data, **kwargs)  # type: ignore[arg-type]
        self.fields["kind"].choices = kinds_for(extinguisher)  # type: ignore[attr-defined]


class UsedForm(forms.Form):
    words = forms.CharField(
        label="What was seen",
        max_length=240,
        widget=WORDS,
        help_text="Used, gauge out of the green, pin gone.",
    )
