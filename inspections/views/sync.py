"""The wire of the capture page: JSON in, JSON out, whatever happens. A redirect or a page would be taken for a failure."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone

from fleet.actions.photos import keep_photo
from fleet.photos.refusals import PhotoRefused
from inspections import actions
from inspections.editions import NoEdition
from inspections.manifest import ManifestRefused, read_manifest
from inspections.models import WalkRound
from inspections.reference import reference_for
from people.models import Staff
from people.problems import problem
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS

P = ParamSpec("P")
Wire = Callable[Concatenate[HttpRequest, Staff, P], HttpResponse]
RECORD_MOST_BYTES = 4 * 1024 * 1024


def on_the_wire(method: str) -> Callable[[Wire[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """A view of the wire: one method, a signed-in walker handed in, 401 and 403 as problem documents."""

    def guard(view: Wire[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @login_not_required
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if request.method != method:
                refused = problem(405, "Wrong method", f"This address takes {method} only.")
                refused["Allow"] = method
                return refused
            if not isinstance(request.user, Staff):
                return problem(
                    401, "Signed out", "You are signed out. Sign in again; nothing on this tablet is lost."
                )
            if not request.user.has_role(WALKERS):
                return problem(
                    403, "Not for this role", "Walk-rounds are signed by yard hands, fitters and managers."
                )
            return view(request, request.user, *args, **kwargs)

        guarded.allowed_roles = WALKERS  # type: ignore[attr-defined]
        return guarded

    return guard


def _body(request: HttpRequest, most_bytes: int) -> bytes | None:
    """The body, or None when it is larger than allowed: told by its length before a byte of it is read."""
    try:
        if int(request.META.get("CONTENT_LENGTH") or 0) > most_bytes:
            return None
        return request.body
    except (RequestDataTooBig, ValueError):
        return None


@on_the_wire("GET")
def reference(request: HttpRequest, person: Staff) -> HttpResponse:
    try:
        return JsonResponse(reference_for(person, csrf=get_token(request), at=timezone.now()))
    except NoEdition as refusal:
        return problem(409, "No check sheets", refusal.sentence)


@on_the_wire("PUT")
def photo(request: HttpRequest, person: Staff, sha256: str) -> HttpResponse:
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        return problem(422, "No hash", "A photo is sent under the SHA-256 of its bytes.")
    raw = _body(request, settings.PHOTO_MAX_BYTES)
    if raw is None:
        most = settings.PHOTO_MAX_BYTES // (1024 * 1024)
        return problem(
            413, "Too large", f"This photo is larger than {most} MB. Take it again at a smaller size."
        )
    at = timezone.now()
    try:
        kept = keep_photo(raw=raw, expected_sha256=sha256, by=person, at=at)
    except PhotoRefused as refusal:
        return problem(422, "Photo refused", refusal.sentence)
    body = {
        "sha256": kept.original_sha256,
        "id": str(kept.pk),
        "width": kept.width_px,
        "height": kept.height_px,
    }
    return JsonResponse(body, status=201 if kept.received_at == at else 200)


def _json(raw: bytes) -> object:
    try:
        return json.loads(raw)
    except (ValueError, RecursionError) as error:
        # Not text, not JSON, a number of thousands of digits, or nested without end.
        raise ManifestRefused("The record did not arrive as JSON. Send it again.") from error


def _told(walk: WalkRound) -> dict[str, object]:
    return {
        "id": str(walk.pk),
        "sha256": walk.manifest_sha256,
        "outcome": walk.outcome,
        "headline": walk.headline,
        "reasons": walk.reasons,
        "page": reverse("inspections:walk_round_detail", args=[walk.pk]),
        "received_at": walk.received_at.isoformat(),
    }


@on_the_wire("PUT")
def walk_round(request: HttpRequest, person: Staff, walk_id: UUID) -> HttpResponse:
    raw = _body(request, RECORD_MOST_BYTES)
    if raw is None:
        return problem(
            413,
            "Too large",
            "This record is larger than a walk-round can be. Show it to the workshop manager.",
        )
    try:
        manifest = read_manifest(_json(raw))
        if manifest.id != walk_id:
            raise ManifestRefused("The record was sent under another id than its own.")
        walk, is_new = actions.sign_walk_round(manifest=manifest, by=person, at=timezone.now())
    except actions.PhotosMissing as refusal:
        return problem(409, "Photos missing", refusal.sentence, photos_missing=refusal.missing)
    except actions.UnknownCart as refusal:
        return problem(404, "Unknown cart", refusal.sentence)
    except NotAllowed as refusal:
        return problem(403, "Not allowed", refusal.sentence)
    except Refusal as refusal:
        return problem(422, "Record refused", refusal.sentence)
    return JsonResponse(_told(walk), status=201 if is_new else 200)
