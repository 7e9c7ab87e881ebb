"""Parsing what is typed in the workshop; rules live in actions."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.lap.stations import STATIONS
from fleet.models.carts import Cart
from fleet.models.defects import CLOSED_STATES, GRADES, STATES, Defect
from fleet.models.photos import Photo
from fleet.querysets import DefectQuerySet
from people.models import Staff
from people.roles import WORKSHOP

OPEN_STATES = [(key, label) for key, label in STATES if key not in CLOSED_STATES]
GRADE_WORDS = [
    ("do_not_use", "Do not use: the cart stays until it is repaired"),
    ("by_date", "Repair by a date: it may go until then"),
    ("watch", "Watch: it may go, and is looked at again"),
]


def _hands() -> Any:
    return Staff.objects.filter(is_active=True, role__in=[role.value for role in WORKSHOP]).order_by(
        "full_name"
    )


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class QueueFilter(forms.Form):
    """What the queue is narrowed by. A word nobody offers narrows nothing."""

    grade = forms.ChoiceField(required=False, choices=[("", "All grades"), *GRADES])
    state = forms.ChoiceField(required=False, label="Stands", choices=[("", "Anywhere"), *OPEN_STATES])
    person = forms.ModelChoiceField(Staff.objects.none(), required=False, empty_label="Anybody")
    cart = forms.CharField(
        required=False, max_length=12, widget=forms.TextInput(attrs={"type": "search", "size": "10"})
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")
        self.fields["person"].queryset = _hands()  # type: ignore[attr-defined]

    def chosen(self, name: str) -> Any:
        """What was chosen, or None for nothing and for a word nobody offers."""
        return None if name in self.errors else self.cleaned_data[name] or None

    def narrow(self, defects: DefectQuerySet) -> DefectQuerySet:
        if grade := self.chosen("grade"):
            defects = defects.filter(grade=grade)
        if state := self.chosen("state"):
            defects = defects.filter(state=state)
        if person := self.chosen("person"):
            defects = defects.filter(assigned_to=person)
        if words := self.chosen("cart"):
            defects = defects.filter(cart__in=Cart.objects.found_by(words).values("pk"))
        return defects


WORDS = forms.Textarea(attrs={"rows": 3})


class WithPhoto(forms.Form):
    """A form that may carry a photo. One that was taken in is kept by its id while the rest is put right."""

    photo = forms.FileField(
        required=False, widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})
    )
    kept_photo = forms.ModelChoiceField(Photo.objects.all(), required=False, widget=forms.HiddenInput)


class VersionForm(forms.Form):
    """A step on a defect: it posts the version its page showed, so that nobody decides on what has changed since."""

    version = forms.IntegerField(min_value=1, widget=forms.HiddenInput)

    def __init__(self, *args: Any, defect: Defect, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.defect = defect
        self.initial.setdefault("version", defect.version)


class PhotoForm(VersionForm, WithPhoto):
    """A step on a defect that may carry a photo."""


class LookForm(PhotoForm):
    grade = forms.ChoiceField(label="How bad it is", choices=GRADE_WORDS, widget=forms.RadioSelect)
    due_on = forms.DateField(
        label="Repair by",
        required=False,
        widget=DayInput(),
        help_text="Only with “repair by a date”: the last day it may go as it is.",
    )
    assigned_to = forms.ModelChoiceField(
        Staff.objects.none(), label="Whose job it is", required=False, empty_label="Nobody yet"
    )
    words = forms.CharField(label="What you found", required=False, max_length=2000, widget=WORDS)
    second_name = forms.CharField(
        label="Second person",
        required=False,
        max_length=80,
        help_text="Easing “do not use” takes a second named person who has looked, and a fresh photo.",
    )
    field_order = ("version", "grade", "due_on", "assigned_to", "words", "second_name", "photo", "kept_photo")

    def __init__(self, *args: Any, defect: Defect, **kwargs: Any) -> None:
        super().__init__(*args, defect=defect, **kwargs)
        self.fields["assigned_to"].queryset = _hands()  # type: ignore[attr-defined]
        self.initial.update(grade=defect.grade, due_on=defect.due_on, assigned_to=defect.assigned_to_id)
        if defect.grade != "do_not_use":
            for name in ("second_name", "photo", "kept_photo"):
                del self.fields[name]


class RepairForm(PhotoForm):
    words = forms.CharField(
        label="What was done",
        max_length=2000,
        widget=WORDS,
        help_text="Parts, settings, readings: the next person relies on it.",
    )
    field_order = ("version", "words", "photo", "kept_photo")


class SecondLookForm(PhotoForm):
    words = forms.CharField(label="What you looked at", required=False, max_length=2000, widget=WORDS)
    field_order = ("version", "words", "photo", "kept_photo")


class SendBackForm(VersionForm):
    words = forms.CharField(label="What is still wrong", max_length=2000, widget=WORDS)


class NoFaultForm(VersionForm):
    words = forms.CharField(
        label="How it was tested",
        max_length=2000,
        widget=WORDS,
        help_text="The next person who sees this wants to know.",
    )


class LimitForm(VersionForm):
    words = forms.CharField(
        label="The limit, as the customer reads it",
        max_length=160,
        help_text="It stands at the top of the certificate.",
    )
    how_isolated = forms.CharField(label="How it is isolated", max_length=160)
    tag_number = forms.CharField(label="Tag number", max_length=20)


# What each step on a defect asks for, by its word in the address.
STEP_FORMS: dict[str, type[VersionForm]] = {
    "look": LookForm,
    "start": VersionForm,
    "repair": RepairForm,
    "second-look": SecondLookForm,
    "send-back": SendBackForm,
    "no-fault": NoFaultForm,
    "limit": LimitForm,
}


class TellForm(WithPhoto):
    """A defect told by hand. The hidden id is made with the page, so that one form sent twice tells one defect."""

    told_id = forms.UUIDField(widget=forms.HiddenInput)
    cart = forms.ModelChoiceField(Cart.objects.none(), empty_label="Choose a cart")
    title = forms.CharField(
        label="What is wrong", max_length=80, help_text="A few words: “Hose weeping at the pump outlet”."
    )
    words = forms.CharField(label="What you saw", required=False, max_length=2000, widget=WORDS)
    station = forms.ChoiceField(
        label="Where on the cart",
        choices=[("", "Choose a place"), *((station.key, station.label) for station in STATIONS)],
    )
    grade = forms.ChoiceField(label="How bad it is", choices=GRADE_WORDS, widget=forms.RadioSelect)
    field_order = ("told_id", "cart", "title", "words", "station", "grade", "photo", "kept_photo")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cart"].queryset = Cart.objects.filter(retired_on=None)  # type: ignore[attr-defined]
        self.initial.setdefault("told_id", uuid.uuid4())
