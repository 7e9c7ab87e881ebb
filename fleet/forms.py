"""Parsing what is typed about carts; rules live in actions. Forms of tyres, meters and extinguishers are in gear_forms."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone

from fleet.actions.carts import CartDetails
from fleet.gear import GEAR, TANK_MATERIALS
from fleet.models.carts import STEERING_SIDES, TANK_SHAPES, WHERE_KINDS, Cart
from fleet.models.equipment import DOCUMENT_KINDS
from fleet.models.photos import Photo
from fleet.models.standing import Hold
from fleet.wheel_places import GroupPlan
from fleet.yards import several_yards
from people.templatetags.screen import fault_sentences
from people.yard import yard_policy

CAPITALS = {"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
ABOVE_ZERO = "Above zero."
NOT_BELOW = "Not below zero."
WORDS = forms.Textarea(attrs={"rows": 3})
PHOTO = forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})


def bounds(sentence: str) -> dict[str, str]:
    """What a number field says of a figure outside its bounds, in the yard's words."""
    return {"min_value": sentence, "max_value": sentence}


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class YardMoment(forms.DateTimeField):
    """A date and time by the yard's clock, given back as an aware instant. A time the clock skips or has twice is asked
    about again."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        super().__init__(widget=widget, **kwargs)

    def to_python(self, value: Any) -> datetime | None:
        with timezone.override(yard_policy().zone):
            return super().to_python(value)

    def prepare_value(self, value: Any) -> Any:
        with timezone.override(yard_policy().zone):
            return super().prepare_value(value)


class CartForm(forms.Form):
    fleet_number = forms.CharField(max_length=12, widget=forms.TextInput(attrs=CAPITALS))
    plate = forms.CharField(
        max_length=12,
        required=False,
        widget=forms.TextInput(attrs=CAPITALS),
        help_text="Leave empty for a cart that is never on a public road.",
    )
    vin = forms.CharField(label="VIN", max_length=17, required=False, widget=forms.TextInput(attrs=CAPITALS))
    make = forms.CharField(max_length=40)
    model = forms.CharField(max_length=40)
    build_year = forms.IntegerField(
        min_value=1970, max_value=2100, error_messages=bounds("A year from 1970 on, as on the build plate.")
    )
    steering_side = forms.ChoiceField(choices=STEERING_SIDES)
    gross_limit_kg = forms.IntegerField(
        label="Gross limit (GVM), kg", min_value=1, error_messages=bounds(ABOVE_ZERO)
    )
    tank_shape = forms.ChoiceField(label="Tank shape, seen from behind", choices=TANK_SHAPES)
    tank_material = forms.ChoiceField(choices=list(TANK_MATERIALS.items()))
    tank_length_m = forms.DecimalField(label="Tank length, m", max_digits=5, decimal_places=2)
    tank_width_m = forms.DecimalField(label="Tank width, m", max_digits=5, decimal_places=2)
    tank_height_m = forms.DecimalField(label="Tank height, m", max_digits=5, decimal_places=2)
    tank_capacity_l = forms.IntegerField(
        label="Tank holds, L", min_value=1, error_messages=bounds(ABOVE_ZERO)
    )
    fuel_tank_l = forms.IntegerField(
        label="Fuel tanks hold, L",
        min_value=1,
        max_value=2000,
        required=False,
        error_messages=bounds("From 1 to 2,000, or blank."),
        help_text="All of them together, as the maker says. Fuel short at a return is estimated by it.",
    )
    home_yard = forms.CharField(max_length=60, initial="Home yard")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if yards := several_yards():
            choices = [("", "Choose its yard"), *((yard.name, yard.name) for yard in yards)]
            self.fields["home_yard"] = forms.ChoiceField(choices=choices)

    def details(self) -> CartDetails:
        """What was typed, once the form is valid."""
        return CartDetails(**{name: self.cleaned_data[name] for name in self.fields})


class CartChangeForm(CartForm):
    retired_on = forms.DateField(
        label="Left the fleet on",
        required=False,
        widget=DayInput(),
        help_text="From this day it is on no board. Its records stay.",
    )

    @classmethod
    def of(cls, cart: Cart, data: QueryDict | None) -> CartChangeForm:
        return cls(data, initial={name: getattr(cart, name) for name in cls.base_fields})


WHAT_GROUPS_DO = [("steer", "Steers"), ("drive", "Drives or carries")]


class AxleGroupForm(forms.Form):
    """One axle group. Every cart has the first; the others may be left at "No such group"."""

    kind = forms.ChoiceField(
        label="What it does", required=False, choices=[("", "No such group"), *WHAT_GROUPS_DO]
    )
    axles = forms.IntegerField(
        label="Axles",
        min_value=1,
        max_value=3,
        required=False,
        error_messages=bounds("A group has one to three axles."),
    )
    has_duals = forms.BooleanField(label="Dual tyres", required=False)
    position_m = forms.DecimalField(
        label="Centre behind the first axle, m",
        min_value=0,
        max_digits=5,
        decimal_places=2,
        required=False,
        error_messages=bounds(NOT_BELOW),
    )
    tare_kg = forms.IntegerField(
        label="Tare on it, kg", min_value=0, required=False, error_messages=bounds(NOT_BELOW)
    )
    limit_kg = forms.IntegerField(
        label="Most it may carry, kg", min_value=0, required=False, error_messages=bounds(NOT_BELOW)
    )

    def __init__(self, *args: Any, is_first: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_first:
            self.fields["kind"].choices = WHAT_GROUPS_DO  # type: ignore[attr-defined]
            for name, field in self.fields.items():
                field.required = name != "has_duals"

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        if typed.get("kind"):
            for name in ("axles", "position_m", "tare_kg", "limit_kg"):
                if typed.get(name) is None and name not in self.errors:
                    self.add_error(name, "Not filled in yet.")
        return typed

    def plan(self) -> GroupPlan | None:
        """The group as planned, or None for none; once the form is valid."""
        typed = self.cleaned_data
        return GroupPlan(**{name: typed[name] for name in self.fields}) if typed["kind"] else None


class AxlesForm:
    """Up to three groups from the front, one form each, all posted with the page."""

    def __init__(self, data: QueryDict | None, groups: list[GroupPlan]) -> None:
        blank: list[GroupPlan | None] = [*groups, None, None, None]
        self.forms = [
            AxleGroupForm(
                data, prefix=f"group{number}", initial=vars(plan) if plan else {}, is_first=number == 1
            )
            for number, plan in enumerate(blank[:3], start=1)
        ]

    def is_valid(self) -> bool:
        # Every group is looked at, so that all faults are told at once.
        return sum(not form.is_valid() for form in self.forms) == 0

    def plans(self) -> list[GroupPlan]:
        return [plan for form in self.forms if (plan := form.plan()) is not None]

    def faults(self) -> list[tuple[str, str]]:
        """Sentences for the list of faults, each with the id of its field."""
        return [
            (f"Group {number}, {form[name].label.lower()}: {sentence}", form[name].id_for_label)
            for number, form in enumerate(self.forms, start=1)
            for name in form.errors
            for sentence in fault_sentences(form[name])
        ]


class MoveForm(forms.Form):
    where_kind = forms.ChoiceField(label="Where it is", choices=WHERE_KINDS, widget=forms.RadioSelect)
    where_words = forms.CharField(label="Which place there", max_length=80, required=False)
    keys_words = forms.CharField(label="Who has the keys", max_length=80, required=False)
    without_permit = forms.CharField(
        label="Why it moved without a move permit",
        max_length=240,
        required=False,
        widget=WORDS,
        help_text="Only where the held cart has left the yard already.",
    )

    def __init__(self, *args: Any, is_held: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not is_held and not (self.is_bound and "without_permit" in self.data):
            del self.fields["without_permit"]


class PutAwayForm(forms.Form):
    keys_words = forms.CharField(
        label="Where its keys are", max_length=80, help_text="As on the board or the key safe’s tag."
    )


class GearForm(forms.Form):
    kind = forms.ChoiceField(
        label="Gear", choices=[("", "Choose gear"), *sorted(GEAR.items(), key=lambda item: item[1])]
    )
    count = forms.IntegerField(
        label="How many", min_value=1, initial=1, error_messages=bounds("At least one is fitted.")
    )
    details = forms.CharField(
        max_length=120, required=False, help_text="Make, size or serial, where it matters."
    )
    fitted_on = forms.DateField(widget=DayInput())


class RemoveGearForm(forms.Form):
    removed_on = forms.DateField(label="Came off on", widget=DayInput())


class WithPhoto(forms.Form):
    """A form that may carry a photo. One that was taken in is kept by its id while the rest is put right."""

    photo = forms.FileField(required=False, widget=PHOTO)
    kept_photo = forms.ModelChoiceField(Photo.objects.all(), required=False, widget=forms.HiddenInput)


class HoldForm(WithPhoto):
    kind = forms.ChoiceField(
        choices=Hold.KINDS, initial="manual", widget=forms.RadioSelect, label="Kind of hold"
    )
    reason = forms.CharField(label="Why", max_length=240, widget=WORDS)
    is_tag_hung = forms.BooleanField(label="The tag hangs on the cart", required=False)
    tag_number = forms.CharField(max_length=20, required=False)
    keys_words = forms.CharField(label="Where the keys are", max_length=80)
    field_order = ("kind", "reason", "is_tag_hung", "tag_number", "keys_words", "photo", "kept_photo")


class LiftHoldForm(forms.Form):
    words = forms.CharField(label="What was found, and why it may go", max_length=240, widget=WORDS)
    is_tag_off = forms.BooleanField(label="I have taken the tag off the cart", required=False)

    def __init__(self, data: QueryDict | None, *, hold: Hold) -> None:
        super().__init__(data)
        if not hold.is_tag_hung:
            del self.fields["is_tag_off"]


class DocumentForm(forms.Form):
    kind = forms.ChoiceField(label="Paper", choices=[("", "Choose a paper"), *DOCUMENT_KINDS])
    number = forms.CharField(max_length=40, required=False)
    issued_on = forms.DateField(required=False, widget=DayInput())
    expires_on = forms.DateField(
        label="Good until",
        required=False,
        widget=DayInput(),
        help_text="The last day it is good. Leave empty if it never lapses.",
    )
    conditions = forms.CharField(
        label="Conditions on it",
        max_length=200,
        required=False,
        help_text="What it holds only with. The cart goes with that as a limit: its certificate and the gate say it.",
    )


class NotShownAgain(forms.TextInput):
    """For what is typed once: a form that comes back does not carry it."""

    def format_value(self, value: Any) -> None:
        return None


class NameOnSiteForm(forms.Form):
    """Whoever walks on site, without an account."""

    name = forms.CharField(
        label="Your name",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": "Type your name: it stands under every pre-start you sign."},
    )


class PlateForm(NameOnSiteForm):
    code = forms.CharField(
        label="Site code",
        max_length=20,
        widget=NotShownAgain(attrs=CAPITALS),
        error_messages={"required": "Type the site code. Your supervisor has it from the yard."},
    )
