"""What the workshop's form pages do alike: take a photo in first, put a refusal on the form, hand the rest to the action."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.forms import Form
from django.http import HttpRequest, QueryDict

from fleet.actions.photos import keep_photo
from fleet.photos.refusals import PhotoRefused
from people.models import Staff
from people.refusals import Refusal


def take_in(request: HttpRequest, *, by: Staff, at: datetime) -> tuple[QueryDict, str]:
    """What was typed, with the photo taken in at once and named in it, so that no fault elsewhere loses it; and the
    sentence of a refused photo."""
    data, file = request.POST.copy(), request.FILES.get("photo")
    if file is None:
        return data, ""
    try:
        photo = keep_photo(raw=file.read(), expected_sha256=None, by=by, at=at)
    except PhotoRefused as no:
        return data, no.sentence
    data["kept_photo"] = str(photo.pk)
    return data, ""


def refuse(form: Form, no: Refusal) -> None:
    form.add_error(no.field if no.field in form.fields else None, no.sentence)


def typed_of(form: Form) -> dict[str, Any]:
    """What a valid form asks of its action: the photo is the one kept."""
    typed = {name: value for name, value in form.cleaned_data.items() if name not in ("photo", "kept_photo")}
    if "kept_photo" in form.fields:
        typed["photo"] = form.cleaned_data["kept_photo"]
    return typed
