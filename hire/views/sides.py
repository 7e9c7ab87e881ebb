"""Pictures of a cart from each side, as a form of the gate brings them."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, QueryDict

from fleet.actions.photos import Outsider, keep_photo
from fleet.photos.refusals import PhotoRefused
from hire.actions.gate_given import SIDES
from people.models import Staff


def sides_taken_in(
    request: HttpRequest, data: QueryDict, *, by: Staff | Outsider, at: datetime
) -> list[tuple[str, str]]:
    """Take the photos in, so that nobody walks round again for a fault elsewhere, and name them in `data` as kept; the faults of
    those that are refused, by field."""
    told = []
    for key in SIDES:
        if file := request.FILES.get(f"side_{key}"):
            try:
                photo = keep_photo(raw=file.read(), expected_sha256=None, by=by, at=at)
                data[f"kept_{key}"] = str(photo.pk)
            except PhotoRefused as refusal:
                told.append((f"side_{key}", refusal.sentence))
    return told
