"""Parsing what is typed of tyres changed, wheels off and on, and nuts checked; rules live in servicing.wheel_actions."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.http import QueryDict

from fleet.forms import YardMoment
from fleet.gear_forms import TyreForm
from fleet.models.carts import Cart
from fleet.models.wheels import TyreFitting, WheelPosition

WITHIN = [("", "Any time"), ("14", "14 days"), ("30", "30 days"), ("90", "90 days")]


class TyreFilter(forms.Form):
    """What the list of tyres is narrowed by. A word nobody offers narrows nothing."""

    axle = forms.ChoiceField(
        required=False, choices=[("", "All axles"), ("steer", "Steer axles"), ("drive", "Drive axles")]
    )
    within = forms.ChoiceField(required=False, label="Change out within", choices=WITHIN)
    cart = forms.CharField(
        required=False, max_length=12, widget=forms.TextInput(attrs={"type": "search", "size": "10"})
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")

    def chosen(self, name: str) -> Any:
        """What was chosen, or None for nothing and for a word nobody offers."""
        return None if name in self.errors else self.cleaned_data[name] or None

    def narrow(self, fittings: QuerySet[TyreFitting], *, on: date) -> QuerySet[TyreFitting]:
        if axle := self.chosen("axle"):
            fittings = fittings.filter(wheel_position__steers=axle == "steer")
        if days := self.chosen("within"):
            fittings = fittings.filter(forecast__on_change_out__lte=on + timedelta(days=int(days)))
        if words := self.chosen("cart"):
            fittings = fittings.filter(wheel_position__cart__in=Cart.objects.found_by(words).values("pk"))
        return fittings


class ChangeTyreForm(TyreForm):
    """The tyre that goes on, and why the other comes off."""

    fitted_at = None  # type: ignore[assignment] # the framework's way of leaving a field out
    changed_at = YardMoment(label="Changed")
    words = forms.CharField(label="Why the old one comes off", max_length=240, required=False)
    field_order = ("changed_at", "serial", "make", "size")


class RefitForm(forms.Form):
    position_code = forms.ChoiceField(label="Wheel")
    refitted_at = YardMoment(label="On again")
    why = forms.CharField(
        label="What it was off for", max_length=160, help_text="Brake shoes, hub seal, puncture."
    )

    def __init__(self, data: QueryDict | None, *, positions: list[WheelPosition], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["position_code"].choices = [  # type: ignore[attr-defined]
            ("", "Choose a wheel"),
            *((row.code, f"{row.code}, {row.words}") for row in positions),
        ]


class NutsForm(forms.Form):
    """One check of a hub's nuts."""

    done_at = YardMoment(label="Checked")
    wrench = forms.CharField(label="Wrench", max_length=40, help_text="The number on its calibration tag.")
    setting_nm = forms.IntegerField(
        label="Set to, N·m", help_text="The maker’s figure for this wheel and stud.", max_value=9999
    )
    nuts = forms.IntegerField(label="Nuts checked", min_value=0, max_value=99)


class FirstNutsForm(NutsForm):
    second_for = forms.CharField(
        label="Who checks them after the first km",
        max_length=80,
        help_text="By name: the driver, or ours who goes out.",
    )
    shift_ends_at = YardMoment(
        label="End of its first shift", help_text="By then at the latest, however few km it ran."
    )


class SecondNutsForm(NutsForm):
    by_words = forms.CharField(
        label="Who checked them", max_length=80, help_text="Name and firm, on site or ours; by phone will do."
    )
    km = forms.DecimalField(
        label="Odometer then, km", max_digits=10, decimal_places=1, min_value=0, required=False,
        help_text="Leave empty where it was not read.",
    )  # fmt: skip
    field_order = ("by_words", "done_at", "km")
