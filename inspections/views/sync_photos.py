"""Photos on the wire: whole in one body, or in parts that go on after a break where they stopped."""

from __future__ import annotations

import re
from datetime import datetime

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from fleet.actions.photo_parts import PART_MOST_BYTES, Part, received_of, take_part
from fleet.actions.photos import keep_photo
from fleet.models.photos import Photo
from fleet.photos.refusals import (
    PartTooLarge,
    PhotoRefused,
    TooManyBytes,
    TooManyUnfinished,
    WrongOffset,
)
from inspections.views.wire import BodyRefused, for_whoever_walks, whole_body
from inspections.walkers import Walker, sender_of
from people.problems import problem

_SHA256 = re.compile(r"[0-9a-f]{64}")
_NUMBER = re.compile(r"[0-9]{1,12}", re.ASCII)
START, TOTAL = "Upload-Offset", "Upload-Length"


@for_whoever_walks("GET", "PUT")
def photo(request: HttpRequest, walker: Walker, sha256: str) -> HttpResponse:
    if not _SHA256.fullmatch(sha256):
        return problem(422, "No hash", "A photo is sent under the SHA-256 of its bytes.")
    if request.method == "GET":
        found = received_of(sha256=sha256, by=sender_of(walker))
        return JsonResponse({"sha256": sha256, "offset": found.offset, "complete": found.photo is not None})
    try:
        if START in request.headers or TOTAL in request.headers:
            return _part(request, walker, sha256, at=timezone.now())
        return _whole(request, walker, sha256, at=timezone.now())
    except WrongOffset as refusal:
        return problem(409, "Wrong offset", refusal.sentence, code=refusal.code, offset=refusal.offset)
    except TooManyUnfinished as refusal:
        return problem(429, "Too many unfinished", refusal.sentence, code=refusal.code)
    except (TooManyBytes, PartTooLarge) as refusal:
        return problem(413, "Too large", refusal.sentence, code=refusal.code)
    except PhotoRefused as refusal:
        return problem(422, "Photo refused", refusal.sentence, code=refusal.code)


def _kept(photo: Photo, at: datetime) -> HttpResponse:
    body = {
        "sha256": photo.original_sha256,
        "id": str(photo.pk),
        "width": photo.width_px,
        "height": photo.height_px,
    }
    return JsonResponse(body, status=201 if photo.received_at == at else 200)


def _whole(request: HttpRequest, walker: Walker, sha256: str, *, at: datetime) -> HttpResponse:
    most = settings.PHOTO_MAX_BYTES // (1024 * 1024)
    raw = whole_body(
        request,
        most_bytes=settings.PHOTO_MAX_BYTES,
        too_large=f"This photo is larger than {most} MB. Take it again at a smaller size.",
    )
    return _kept(keep_photo(raw=raw, expected_sha256=sha256, by=sender_of(walker), at=at), at)


def _number(request: HttpRequest, name: str) -> int:
    text = request.headers.get(name, "")
    if not _NUMBER.fullmatch(text):
        raise BodyRefused(
            400, "Not a part", f"A part of a photo says {START} and {TOTAL}, each a whole number of bytes."
        )
    return int(text)


def _part(request: HttpRequest, walker: Walker, sha256: str, *, at: datetime) -> HttpResponse:
    start, total = _number(request, START), _number(request, TOTAL)
    content = whole_body(
        request,
        most_bytes=PART_MOST_BYTES,
        too_large=f"A part of a photo is at most {PART_MOST_BYTES} bytes. Send it in smaller parts.",
    )
    received = take_part(part=Part(sha256, start, total, content), by=sender_of(walker), at=at)
    if received.photo is not None:
        return _kept(received.photo, at)
    return JsonResponse({"offset": received.offset}, status=202)
