"""The wire of the capture page: who asks, what there is to walk, what the yard holds, and the signed record itself."""

from __future__ import annotations

import json
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.gzip import gzip_page

from inspections import actions
from inspections.clocks import is_flagged
from inspections.editions import NoEdition
from inspections.manifest import ManifestRefused, read_manifest
from inspections.models import WalkRound
from inspections.reference import person_of, reference_for
from inspections.views.wire import on_the_wire, whole_body, wrong_method
from people.models import Staff
from people.problems import problem
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS

RECORD_MOST_BYTES = 4 * 1024 * 1024
HELD_MOST_IDS = 100


@login_not_required
def hello(request: HttpRequest) -> HttpResponse:
    """Who is signed in, with a fresh token and the yard's time. Open: a tablet asks it to learn that it is signed out."""
    if request.method != "GET":
        return wrong_method("GET")
    person = request.user if isinstance(request.user, Staff) else None
    return JsonResponse(
        {
            "version": 1,
            "server_time": timezone.now().isoformat(),
            # None for a stranger: making one here would spoil the sign-in form that is open beside it.
            "csrf": get_token(request) if person else "",
            "person": person_of(person) if person else None,
            "may_walk": person is not None and person.has_role(WALKERS),
        }
    )


@gzip_page
@on_the_wire("GET")
def reference(request: HttpRequest, person: Staff) -> HttpResponse:
    try:
        return JsonResponse(reference_for(person, csrf=get_token(request), at=timezone.now()))
    except NoEdition as refusal:
        return problem(409, "No check sheets", refusal.sentence)


@on_the_wire("GET")
def held(request: HttpRequest, person: Staff) -> HttpResponse:
    """Which of the records asked about the yard holds, each with the hash it is held under."""
    asked = request.GET.getlist("id")
    if len(asked) > HELD_MOST_IDS:
        return problem(422, "Too many", f"At most {HELD_MOST_IDS} records can be asked about at once.")
    try:
        ids = [UUID(text) for text in asked]
    except ValueError:
        return problem(422, "No record’s id", "A record is asked about by its id.")
    found = WalkRound.objects.filter(pk__in=ids).values_list("pk", "manifest_sha256")
    return JsonResponse({"held": {str(walk_id): sha256 for walk_id, sha256 in found}})


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
        "name_confirmed": walk.is_name_confirmed,
        "clock_flag": is_flagged(walk.clock_offset),
    }


@on_the_wire("PUT")
def walk_round(request: HttpRequest, person: Staff, walk_id: UUID) -> HttpResponse:
    raw = whole_body(
        request,
        most_bytes=RECORD_MOST_BYTES,
        too_large="This record is larger than a walk-round can be. Show it to the workshop manager.",
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
