"""Parsing what a road's dust is reckoned from: all of it may be left empty. Rules live in fleet.water.dust."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms

from fleet.forms import ABOVE_ZERO, NOT_BELOW, bounds
from fleet.water.dust import T_PER_SHORT_TON, mean_weight_short_tons

INDUSTRIAL, PUBLIC = "industrial", "public"
KIND = re.compile(r"(\d{1,6}(?:\.\d{1,3})?) (?:of|×|x) (\d{1,3}(?:\.\d{1,3})?) ?t?")
ROADS = [(INDUSTRIAL, "Haul or plant road"), (PUBLIC, "Public road, mostly light vehicles")]


def figure(label: str, *, or_zero: bool = False, most: int = 1_000_000, **more: Any) -> forms.DecimalField:
    least = Decimal(0) if or_zero else Decimal("0.001")
    what = NOT_BELOW if or_zero else ABOVE_ZERO
    return forms.DecimalField(
        label=label, min_value=least, max_value=most, max_digits=12, decimal_places=3,
        error_messages=bounds(f"{what[:-1]}, up to {most:,}."), **more,
    )  # fmt: skip


class DustForm(forms.Form):
    vehicles_per_h = figure("Traffic, vehicles an hour", most=10_000, required=False)
    pan_mm = figure(
        "A year’s evaporation from a class A pan, mm",
        most=6000,
        required=False,
        help_text="From the weather service’s map.",
    )
    target_control_pct = figure(
        "Dust to keep down, %",
        most=99,
        required=False,
        help_text="With traffic and a year’s evaporation it says how long one may wait between passes.",
    )
    road_kind = forms.ChoiceField(label="What the road is", choices=ROADS, required=False)
    silt_pct = figure(
        "Silt of the road’s surface, %",
        most=100,
        required=False,
        help_text="From a sample of what lies loose on it.",
    )
    silt_more_pct = figure("The silt may be more or less by, %", or_zero=True, most=90, required=False)
    mean_mass_t = figure(
        "Mean mass of all vehicles, t",
        most=500,
        required=False,
        help_text="Of every vehicle that passes, loaded and empty.",
    )
    masses = forms.CharField(
        label="Or how many of each, and their mass",
        max_length=120,
        required=False,
        help_text="Such as: 12 of 60 t, 30 of 2.5 t",
    )
    mean_km_h = figure("Their mean speed, km/h", most=110, required=False)
    mean_wheels = figure("Their mean number of wheels", most=60, required=False)
    moisture_pct = figure("Moisture of the surface when dry, %", most=100, required=False)
    wet_days = forms.IntegerField(
        label="Days with rain in a year",
        min_value=0,
        max_value=365,
        required=False,
        help_text="Those with 0.25 mm or more. They give the mean of a year.",
        error_messages=bounds("From 0 to 365."),
    )

    def clean_masses(self) -> tuple[tuple[Decimal, Decimal], ...]:
        """(how many, t) of each kind of vehicle."""
        kinds = [part for part in self.cleaned_data["masses"].split(",") if part.strip()]
        found = [KIND.fullmatch(part.strip()) for part in kinds]
        if not all(found):
            raise forms.ValidationError("Give each as “12 of 60 t”, with a comma between.")
        return tuple((Decimal(one[1]), Decimal(one[2])) for one in found if one)

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        if not self.errors and typed["masses"]:
            self._mean_of(typed["masses"])
        if not self.errors and typed["silt_pct"] is not None:
            wanted = {PUBLIC: ("mean_km_h", "moisture_pct")}.get(typed["road_kind"], ("mean_mass_t",))
            for name in wanted:
                if typed[name] is None:
                    self.add_error(name, "The dust of this road is not reckoned from silt without it.")
        elif not self.errors and (typed["mean_mass_t"] is not None or typed["silt_more_pct"]):
            self.add_error("silt_pct", "Give the silt too: without it no dust is reckoned.")
        return typed

    def _mean_of(self, masses: tuple[tuple[Decimal, Decimal], ...]) -> None:
        if self.cleaned_data["mean_mass_t"] is not None:
            self.add_error("masses", "Give the mean mass or what passes, not both.")
            return
        try:
            tons = mean_weight_short_tons([(count, float(mass) / T_PER_SHORT_TON) for count, mass in masses])
        except ValueError as error:
            self.add_error("masses", str(error))
        else:
            self.cleaned_data["mean_mass_t"] = tons * T_PER_SHORT_TON
