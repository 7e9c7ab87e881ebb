"""Parsing a job as it is asked: a GET form, so that the question stays in the address. Rules live in fleet.water."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, ClassVar, cast

from django import forms

from fleet.forms import bounds
from fleet.water.job_plan import Ends, Job, area_of, spread
from hire.dust_forms import DustForm, figure

FROM_MEMORY = "from memory, not checked against a source"
MOST_PASSES = 200


class JobForm(DustForm):
    """What everybody may ask, the customer too."""

    GROUPS: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = (
        ("The road, or the area", ("length_m", "width_m", "area_m2", "area_pct")),
        ("Water to lay", ("target_l_m2", "heads", "passes", "hours_a_day")),
        ("The way to the water", ("haul_km", "haul_km_h", "slow_km_h", "fast_km_h", "by_road")),
        ("At the water", ("fill_l_min", "other_min", "other_most_min")),
        ("Traffic and weather", ("vehicles_per_h", "pan_mm", "target_control_pct")),
        (
            "Dust from the road’s silt",
            (
                "road_kind",
                "silt_pct",
                "silt_more_pct",
                "mean_mass_t",
                "masses",
                "mean_km_h",
                "mean_wheels",
                "moisture_pct",
                "wet_days",
            ),
        ),
    )
    length_m = figure("Length of road, m", required=False)
    width_m = figure("Width of road, m", most=200, required=False)
    area_m2 = figure("Or the area, m²", most=10_000_000, required=False)
    area_pct = figure("The area may be more or less by, %", or_zero=True, most=90, initial=10)
    target_l_m2 = figure("To lay, L/m² (mm)", most=10, help_text="Haul-road trials saw 0.3 to 1.")
    heads = forms.CharField(
        label="Heads open",
        max_length=30,
        required=False,
        help_text="As a cart’s spray figures name them.",
    )
    passes = forms.IntegerField(
        label="Times a day",
        min_value=1,
        max_value=MOST_PASSES,
        initial=2,
        error_messages=bounds(f"From 1 to {MOST_PASSES}."),
    )
    haul_km = figure("Way to the water, km one way", or_zero=True, most=200)
    by_road = forms.BooleanField(label="That way is on a public road", required=False)
    haul_km_h = figure("Speed on that way, km/h", most=110, initial=30)
    slow_km_h = figure("At its slowest, km/h", most=110, required=False)
    fast_km_h = figure("At its fastest, km/h", most=110, required=False)
    fill_l_min = figure(
        "The fill point gives, L/min",
        most=20_000,
        required=False,
        help_text="Left empty: as fast as the cart fills.",
    )
    other_min = figure("Waiting and coupling a round, min", or_zero=True, most=600, initial=10)
    other_most_min = figure("At the most, min", or_zero=True, most=600, required=False)
    hours_a_day = figure("Hours a day", most=24, initial=10)

    def offer_heads(self, names: Iterable[str]) -> None:
        """Choose from the choices of heads on record; what was asked stands among them, whoever has it no more."""
        asked = self["heads"].value() or ""
        every = sorted({*names, asked} - {""}, key=str.casefold)
        self.fields["heads"].widget = forms.Select(
            choices=[("", "Each cart’s first choice"), *((name, name) for name in every)]
        )

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        if (
            not self.errors
            and typed["area_m2"] is None
            and (typed["length_m"] is None or typed["width_m"] is None)
        ):
            self.add_error("length_m", "Give length and width of the road, or the area.")
        if not self.errors and typed["area_m2"] is not None and typed["length_m"] is not None:
            self.add_error("area_m2", "Give the area or the road, not both.")
        if not self.errors:
            self._check_ends()
        if not self.errors:
            try:
                typed["job"] = self._job()
            except ValueError as error:
                self.add_error(None, str(error))
        return typed

    def _check_ends(self) -> None:
        typed = self.cleaned_data
        if typed["slow_km_h"] is not None and typed["slow_km_h"] > typed["haul_km_h"]:
            self.add_error("slow_km_h", "Not over the usual speed.")
        if typed["fast_km_h"] is not None and typed["fast_km_h"] < typed["haul_km_h"]:
            self.add_error("fast_km_h", "Not under the usual speed.")
        if typed["other_most_min"] is not None and typed["other_most_min"] < typed["other_min"]:
            self.add_error("other_most_min", "Not under the usual minutes.")

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Every field under the heading it is asked under."""
        return [(heading, [self[name] for name in names]) for heading, names in self.GROUPS]

    def _job(self) -> Job:
        typed = {
            name: float(value) if isinstance(value, Decimal) else value
            for name, value in self.cleaned_data.items()
        }
        area = typed["area_m2"]
        if area is None:
            area = area_of(length_m=typed["length_m"], width_m=typed["width_m"])
        km, km_h, other = typed["haul_km"], typed["haul_km_h"], typed["other_min"]
        most = other if typed["other_most_min"] is None else typed["other_most_min"]
        return Job(
            area_m2=spread(area, pct=typed["area_pct"], what="The area"),
            passes=self.cleaned_data["passes"],
            target_l_m2=typed["target_l_m2"],
            haul_km=Ends(km, km, km),
            haul_km_h=Ends(typed["slow_km_h"] or km_h, km_h, typed["fast_km_h"] or km_h),
            other_min=Ends(other, other, most),
            hours_a_day=typed["hours_a_day"],
            fill_l_min=typed["fill_l_min"],
            heads=self.cleaned_data["heads"],
        )

    def job(self) -> Job:
        """What is asked; only of a form that is valid."""
        return cast("Job", self.cleaned_data["job"])


class StaffJobForm(JobForm):
    """What the yard may ask besides: the times a day a dust target wants, which rest on memory; and two carts to compare."""

    GROUPS = (
        *JobForm.GROUPS,
        ("For the yard alone", ("evaporation_mm_h", "weather_pct")),
        ("Two carts side by side", ("one", "other")),
    )
    evaporation_mm_h = figure(
        "Evaporation now, mm/h",
        most=5,
        required=False,
        help_text=f"With traffic and the dust to keep down it says how many times a day, {FROM_MEMORY}; for the yard alone.",
    )
    weather_pct = figure(
        "Traffic and evaporation may be more or less by, %", or_zero=True, most=90, required=False
    )
    one = forms.CharField(label="Compare cart", max_length=12, required=False)
    other = forms.CharField(label="with cart", max_length=12, required=False)

    @property
    def is_by_dust(self) -> bool:
        typed = self.cleaned_data
        return None not in (
            typed.get("evaporation_mm_h"),
            typed.get("target_control_pct"),
            typed.get("vehicles_per_h"),
        )


class KeepForm(forms.Form):
    words = forms.CharField(label="Whose job, and where", max_length=120)
    question = forms.CharField(widget=forms.HiddenInput, max_length=4000)
