"""What the workshop's form pages do alike: take a photo in first, put a refusal on the form, hand the rest to the action."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.forms import Form
from django.http import HttpRequest, QueryDict

from fleet.actions.photos import keep_photo
from fleet.models.defects import MOST_PHOTOS
from fleet.photos.refusals import PhotoRefused
from fleet.views.asking import photos_taken_in
from people.models import Staff
from people.refusals import Refusal

PHOTO_FIELDS = ("photo", "kept_photo", "photos", "kept_photos")
Faults = list[tuple[str, str]]


def take_in(request: HttpRequest, *, by: Staff, at: datetime) -> tuple[QueryDict, Faults]:
    """What was typed, with its photos taken in at once and named in it, so that no fault elsewhere loses them; and the field
    and sentence of each that was refused."""
    data, faults = request.POST.copy(), []
    if file := request.FILES.get("photo"):
        try:
            data["kept_photo"] = str(keep_photo(raw=file.read(), expected_sha256=None, by=by, at=at).pk)
        except PhotoRefused as no:
            faults.append(("photo", no.sentence))
    kept, refused = photos_taken_in(request, by=by, at=at, most=MOST_PHOTOS)
    if kept:
        data.setlist("kept_photos", kept)
    return data, faults + [("photos", sentence) for sentence in refused]


def blame(form: Form, faults: Faults) -> None:
    for field, sentence in faults:
        form.add_error(field if field in form.fields else None, sentence)


def refuse(form: Form, no: Refusal) -> None:
    form.add_error(no.field if no.field in form.fields else None, no.sentence)


def typed_of(form: Form) -> dict[str, Any]:
    """What a valid form asks of its action: its photos are those kept."""
    typed = {name: value for name, value in form.cleaned_data.items() if name not in PHOTO_FIELDS}
    if "kept_photo" in form.fields:
        typed["photo"] = form.cleaned_data["kept_photo"]
    if "photos" in form.fields:
        typed["photos"] = form.cleaned_data.get("kept_photos", [])
    return typed
