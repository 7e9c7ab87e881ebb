"""Parsing what is typed of a cart's tank, plates and weighbridge tickets; rules live in actions."""

from __future__ import annotations

import re
from typing import Any, cast

from django import forms
from django.http import QueryDict

from fleet.actions.weights import GroupDetails, PlateDetails, TankDetails, TicketDetails
from fleet.forms import ABOVE_ZERO, NOT_BELOW, WORDS, DayInput, YardMoment, bounds
from fleet.forms import WithPhoto as PhotoForm
from fleet.models.weights import STANDS_ON, TANK_KINDS, TWO_GROUPS
from fleet.water.mass_limits import RuleSet
from fleet.water.road_facts import FUEL_EIGHTHS
from fleet.water.road_law import gross_keys, group_keys
from people.templatetags.screen import fault_sentences
from people.yard import yard_policy

NOT_TYPED = "Not filled in yet."
YES_NO = [("yes", "Yes"), ("no", "No")]
EIGHTHS = [("", "Choose the gauge"), *((n, f"{n} of 8") for n in range(FUEL_EIGHTHS, -1, -1))]


def _metres(
    label: str, *, decimals: int = 2, required: bool = True, help_text: str = ""
) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, max_digits=6, decimal_places=decimals, min_value=0, required=required, help_text=help_text,
        error_messages=bounds(NOT_BELOW),
    )  # fmt: skip


def _whole(label: str, *, least: int = 0, required: bool = True, help_text: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=least, max_value=200_000, required=required, help_text=help_text,
        error_messages=bounds(ABOVE_ZERO if least else NOT_BELOW),
    )  # fmt: skip


class DipRows(forms.CharField):
    """Lines of mm and litres, as [[0, 0], [200, 1900], ...]; None when nothing was typed."""

    widget = forms.Textarea(attrs={"rows": 8})

    def to_python(self, value: Any) -> Any:
        rows = []
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            pair = re.fullmatch(r"\s*(\d+)[\s,;]+(\d+)\s*", line)
            if pair is None and line.strip():
                raise forms.ValidationError(f"Line {number} is not mm and litres, as in “400 3850”.")
            rows += [[int(pair[1]), int(pair[2])]] if pair else []
        return rows or None

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(f"{mm} {litres}" for mm, litres in value) if isinstance(value, list) else value


class TankForm(forms.Form):
    measured_on = forms.DateField(label="Measured on", widget=DayInput())
    shape = forms.ChoiceField(label="Shape, seen from behind", choices=TANK_KINDS)
    length_m = _metres("Length inside, m", decimals=3, required=False)
    width_m = _metres("Width inside, m", decimals=3, required=False)
    height_m = _metres("Height inside, m", decimals=3, required=False)
    dip_rows = DipRows(
        label="Its own table",
        required=False,
        help_text="One line a dip: mm of water, then litres by meter; from 0 0 to full. It beats any formula.",
    )
    dead_l = _whole("Left when the pump draws no more, L")
    lid_above_mm = _whole("Dip mark at the lid above the tank's inside top, mm")
    sight_zero_mm = _whole(
        "Zero of the sight tube above the tank's bottom, mm",
        required=False,
        help_text="Empty: no sight tube.",
    )
    middle_m = _metres("Middle of the tank behind the first axle, m")
    fill_l_min = _whole(
        "Fills with, L/min", least=1, required=False, help_text="Empty where nobody has timed a fill."
    )
    by_words = forms.CharField(label="Measured by", max_length=80)

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        is_table = typed.get("shape") == "table"
        for name in ("dip_rows",) if is_table else ("length_m", "width_m", "height_m"):
            if typed.get(name) is None and name not in self.errors:
                self.add_error(name, NOT_TYPED)
        for name in ("length_m", "width_m", "height_m") if is_table else ("dip_rows",):
            typed[name] = None
        return typed

    def details(self) -> TankDetails:
        """What was typed, once the form is valid."""
        return TankDetails(**self.cleaned_data)


class PlatesForm(forms.Form):
    """The sheet; its two groups are GroupForm."""

    from_on = forms.DateField(label="Read on", widget=DayInput())
    source_words = forms.CharField(
        label="Where it is written",
        max_length=120,
        help_text="Plates by their place, the maker's sheet, tyre book.",
    )
    stands_on = forms.ChoiceField(label="It stands on", choices=STANDS_ON)
    gross_key = forms.ChoiceField(label="The law's gross limit", required=False)
    outer_length_m = _metres("Between its outermost axles, m", required=False)
    fuel_tank_l = _whole("Fuel tanks hold, L")
    fuel_place_m = _metres("Middle of the fuel tanks behind the first axle, m")
    cab_place_m = forms.DecimalField(
        label="Driver's seat behind the first axle, m",
        max_digits=5,
        decimal_places=2,
        help_text="Below zero where the driver sits ahead of it.",
    )
    height_m = _metres("Height as it travels, m", required=False, help_text="Everything stowed.")
    tickets_from_on = forms.DateField(
        label="Weighbridge tickets count from",
        widget=DayInput(),
        required=False,
        help_text="The day it was rebuilt. Empty: all of them count.",
    )

    def __init__(self, data: QueryDict | None, initial: dict[str, Any]) -> None:
        super().__init__(data, initial=initial)
        rule_set = cast("RuleSet", yard_policy().rule_set)
        choices = gross_keys(rule_set)
        if choices:
            self.fields["gross_key"].choices = [("", "Not known"), *choices.items()]  # type: ignore[attr-defined]
        else:
            del self.fields["gross_key"]


class GroupForm(forms.Form):
    name = forms.CharField(label="Called", max_length=24)
    law_key = forms.ChoiceField(label="For the law it is", required=False)
    axles = _whole("Axles", least=1)
    spread_m = _metres("Between its outer axles, m", help_text="0 for a single axle.")
    tyres = _whole("Tyres on it", least=1)
    tyre_load_kg = _whole(
        "One tyre carries, kg", least=1, required=False, help_text="By its load index as fitted."
    )
    maker_kg = _whole("The maker allows, kg", least=1, required=False)
    position_m = _metres("Its middle behind the first axle, m")
    tare_kg = _whole("Maker's tare on it, kg", least=1)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keys = group_keys(cast("RuleSet", yard_policy().rule_set))
        self.fields["law_key"].choices = [("", "Not known"), *keys.items()]  # type: ignore[attr-defined]


class PlateForms:
    """The sheet and its two groups, all posted with the page. The groups are read only where it stands on two."""

    def __init__(self, data: QueryDict | None, initial: dict[str, Any], groups: list[dict[str, Any]]) -> None:
        self.sheet = PlatesForm(data, initial)
        self.forms = [
            GroupForm(data, prefix=prefix, initial=given)
            for prefix, given in zip(("front", "rear"), groups, strict=True)
        ]

    def is_valid(self) -> bool:
        is_sheet_good = self.sheet.is_valid()
        if self.sheet.cleaned_data.get("stands_on") != TWO_GROUPS:
            return is_sheet_good
        # Every form is looked at, so that all faults are told at once.
        return sum(not form.is_valid() for form in self.forms) == 0 and is_sheet_good

    def faults(self) -> list[tuple[str, str]]:
        """Sentences for the list of faults, each with the id of its field."""
        return [
            (f"{title} group, {form[name].label.lower()}: {sentence}", form[name].id_for_label)
            for title, form in zip(("Front", "Rear"), self.forms, strict=True)
            if self.sheet.data.get("stands_on") == TWO_GROUPS
            for name in form.errors
            for sentence in fault_sentences(form[name])
        ]

    def details(self) -> PlateDetails:
        """What was typed, once all forms are valid."""
        typed = {"gross_key": ""} | self.sheet.cleaned_data
        is_two = typed["stands_on"] == TWO_GROUPS
        groups = tuple(GroupDetails(**form.cleaned_data) for form in self.forms) if is_two else ()
        return PlateDetails(**typed, groups=groups)


def _yes_no(label: str) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label, choices=YES_NO, coerce=lambda typed: typed == "yes", widget=forms.RadioSelect
    )


class TicketForm(PhotoForm):
    weighed_at = YardMoment(label="Weighed")
    place_words = forms.CharField(label="Weighbridge", max_length=80)
    number = forms.CharField(label="Ticket number", max_length=40, required=False)
    front_kg = _whole("Front group, kg", least=1)
    rear_kg = _whole("Rear group, kg", least=1)
    water_l = _whole("Water aboard by meter or dip, L")
    driver_in = _yes_no("Driver in the cab")
    kit_in = _yes_no("Kit and hoses aboard")
    fuel_eighths = forms.TypedChoiceField(label="Fuel", choices=EIGHTHS, coerce=int)
    by_words = forms.CharField(label="Weighed by", max_length=80)

    field_order = (
        "weighed_at", "place_words", "number", "front_kg", "rear_kg", "water_l", "driver_in", "kit_in", "fuel_eighths",
        "by_words", "photo", "kept_photo",
    )  # fmt: skip

    def details(self) -> TicketDetails:
        """What was typed, once the form is valid."""
        names = [name for name in self.cleaned_data if "photo" not in name]
        return TicketDetails(**{name: self.cleaned_data[name] for name in names})


class TicketStrikeForm(forms.Form):
    words = forms.CharField(label="What was wrong with it", max_length=240, widget=WORDS)
