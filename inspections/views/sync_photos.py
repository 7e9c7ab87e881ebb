"""Photos on the wire: whole in one body."""

from __future__ import annotations

import re

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from fleet.actions.photos import keep_photo
from fleet.photos.refusals import PhotoRefused
from inspections.views.wire import on_the_wire, whole_body
from people.models import Staff
from people.problems import problem

_SHA256 = re.compile(r"[0-9a-f]{64}")


@on_the_wire("PUT")
def photo(request: HttpRequest, person: Staff, sha256: str) -> HttpResponse:
    if not _SHA256.fullmatch(sha256):
        return problem(422, "No hash", "A photo is sent under the SHA-256 of its bytes.")
    most = settings.PHOTO_MAX_BYTES // (1024 * 1024)
    raw = whole_body(
        request,
        most_bytes=settings.PHOTO_MAX_BYTES,
        too_large=f"This photo is larger than {most} MB. Take it again at a smaller size.",
    )
    at = timezone.now()
    try:
        kept = keep_photo(raw=raw, expected_sha256=sha256, by=person, at=at)
    except PhotoRefused as refusal:
        return problem(422, "Photo refused", refusal.sentence, code=refusal.code)
    body = {
        "sha256": kept.original_sha256,
        "id": str(kept.pk),
        "width": kept.width_px,
        "height": kept.height_px,
    }
    return JsonResponse(body, status=201 if kept.received_at == at else 200)
