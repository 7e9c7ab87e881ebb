"""Parsing what a road's dust is reckoned from: all of it may be left empty. Rules live in fleet.water.dust."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from fleet.forms import ABOVE_ZERO, NOT_BELOW, bounds

INDUSTRIAL, PUBLIC = "industrial", "public"
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
    mean_km_h = figure("Their mean speed, km/h", most=110, required=False)
    moisture_pct = figure("Moisture of the surface when dry, %", most=100, required=False)

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        if not self.errors and typed["silt_pct"] is not None:
            wanted = {PUBLIC: ("mean_km_h", "moisture_pct")}.get(typed["road_kind"], ("mean_mass_t",))
            for name in wanted:
                if typed[name] is None:
                    self.add_error(name, "The dust of this road is not reckoned from silt without it.")
        elif not self.errors and (typed["mean_mass_t"] is not None or typed["silt_more_pct"]):
            self.add_error("silt_pct", "Give the silt too: without it no dust is reckoned.")
        return typed
