"""Parsing what is typed in the workshop; rules live in actions."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms

from fleet.lap.stations import STATIONS, station
from fleet.models.carts import Cart
from fleet.models.defects import MOST_PHOTOS, Defect
from fleet.models.photos import Photo
from fleet.photo_forms import WithPhotos
from people.models import Staff
from people.roles import WORKSHOP

GRADE_WORDS = [
    ("do_not_use", "Do not use: the cart stays until it is repaired"),
    ("by_date", "Repair by a date: it may go until then"),
    ("watch", "Watch: it may go, and is looked at again"),
]


PLACES = [(stop.key, stop.label) for stop in STATIONS]


def hands() -> Any:
    return Staff.objects.filter(is_active=True, role__in=[role.value for role in WORKSHOP]).order_by(
        "full_name"
    )


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


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
    look_again_on = forms.DateField(
        label="Look at it again on",
        required=False,
        widget=DayInput(),
        help_text="Only with “watch”. Left blank, the yard’s usual time from today. A later day twice; then it has a date.",
    )
    look_again_if = forms.CharField(
        label="Or before that if", required=False, max_length=120, help_text="“Over 2 drips a minute”."
    )
    field_order = ("version", "grade", "due_on", "look_again_on", "look_again_if", "assigned_to", "words", "second_name",
                   "photo", "kept_photo")  # fmt: skip

    def __init__(self, *args: Any, defect: Defect, **kwargs: Any) -> None:
        super().__init__(*args, defect=defect, **kwargs)
        self.fields["assigned_to"].queryset = hands()  # type: ignore[attr-defined]
        for name in ("grade", "due_on", "look_again_on", "look_again_if"):
            self.initial[name] = getattr(defect, name)
        self.initial["assigned_to"] = defect.assigned_to_id
        if defect.grade != "do_not_use":
            for name in ("second_name", "photo", "kept_photo"):
                del self.fields[name]


class RepairForm(VersionForm, WithPhotos):
    words = forms.CharField(
        label="What was done",
        max_length=2000,
        widget=WORDS,
        help_text="Parts, settings, readings: the next person relies on it.",
    )
    fix_ends_on = forms.DateField(
        label="Only a temporary fix, good until",
        required=False,
        widget=DayInput(),
        help_text="Its last day. After it the defect is told again by itself.",
    )
    field_order = ("version", "words", "fix_ends_on", "kept_photos", "photos")

    def __init__(self, *args: Any, defect: Defect, **kwargs: Any) -> None:
        super().__init__(*args, defect=defect, **kwargs)
        self.fields["photos"].label = "Photos after the repair"
        self.fields["photos"].help_text = f"Up to {MOST_PHOTOS}."
        if defect.grade == "do_not_use":
            del self.fields["fix_ends_on"]


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


class PutOffForm(VersionForm):
    until = forms.DateField(
        label="Until", widget=DayInput(), help_text="On that day it is back in the queue by itself."
    )
    because = forms.CharField(label="Because", max_length=200, help_text="“The gearbox is on order.”")


class SameForm(VersionForm):
    other = forms.ModelChoiceField(
        Defect.objects.none(),
        label="The other defect of this cart",
        empty_label="Choose one",
        help_text="This one is closed; the other stays in the queue. It is graded no lighter than this.",
    )

    def __init__(self, *args: Any, defect: Defect, **kwargs: Any) -> None:
        super().__init__(*args, defect=defect, **kwargs)
        others = Defect.objects.open().filter(cart=defect.cart_id).exclude(pk=defect.pk).worst_first()
        self.fields["other"].queryset = others  # type: ignore[attr-defined]
        self.fields["other"].label_from_instance = other_words  # type: ignore[attr-defined]


def other_words(defect: Defect) -> str:
    return f"{defect.title}, {station(defect.station).label} ({defect.get_grade_display().lower()})"


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
    "put-off": PutOffForm,
    "same": SameForm,
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
        choices=[("", "Choose a place"), *PLACES],
    )
    grade = forms.ChoiceField(label="How bad it is", choices=GRADE_WORDS, widget=forms.RadioSelect)
    field_order = ("told_id", "cart", "title", "words", "station", "grade", "photo", "kept_photo")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cart"].queryset = Cart.objects.filter(retired_on=None)  # type: ignore[attr-defined]
        self.initial.setdefault("told_id", uuid.uuid4())
