"""What is filled in as a floated cart is loaded, and as it is unloaded; rules live in hire.actions.float_looks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django import forms

from fleet.lap.stations import STATIONS
from fleet.models.defects import GRADES
from fleet.photo_forms import WithPhotos
from hire.actions.float_looks import Eyes
from hire.forms import YardMoment
from hire.models.float_looks import EYES


class EyesForm(WithPhotos):
    eyes = forms.ChoiceField(label="Who looked at it", choices=EYES, initial="ours", widget=forms.RadioSelect)
    eyes_words = forms.CharField(label="Their name", max_length=80)
    happened_at = YardMoment(
        label="When", required=False, help_text="Empty: now. Where you enter it later, the time of the look."
    )

    def seen(self) -> Eyes:
        """Who looked, of a clean form."""
        typed = self.cleaned_data
        return Eyes(
            typed["eyes"], typed["eyes_words"], tuple(typed.get("kept_photos") or ()), typed["happened_at"]
        )


class LoadingForm(EyesForm):
    float_words = forms.CharField(label="Which float, and its driver", max_length=120)
    tied_by_words = forms.CharField(label="Who tied it down", max_length=80)
    travel = forms.MultipleChoiceField(
        label="Its travel state",
        widget=forms.CheckboxSelectMultiple,
        help_text="Tick what you have looked at and found so.",
    )
    field_order = (
        "travel",
        "float_words",
        "tied_by_words",
        "photos",
        "kept_photos",
        "eyes",
        "eyes_words",
        "happened_at",
    )

    def __init__(self, *args: Any, points: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        travel = cast("forms.MultipleChoiceField", self.fields["travel"])
        travel.choices = [(key, words[:1].upper() + words[1:]) for key, words in points.items()]
        # One that came is among the kept by now.
        self.fields["photos"].required = "kept_photos" not in self.fields
        self.fields["photos"].help_text = "On the float, tied down: at least one."


class UnloadingForm(EyesForm):
    new_words = forms.CharField(
        label="Anything new",
        max_length=240,
        required=False,
        help_text="Empty: nothing new. Else it is a defect at once.",
    )
    station = forms.ChoiceField(
        label="Where on the cart",
        required=False,
        choices=[("", "Cannot tell"), *((station.key, station.label) for station in STATIONS)],
    )
    grade = forms.ChoiceField(label="How bad it is", choices=GRADES, initial="watch", required=False)
    field_order = (
        "eyes",
        "eyes_words",
        "new_words",
        "station",
        "grade",
        "photos",
        "kept_photos",
        "happened_at",
    )
