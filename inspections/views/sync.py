"""The wire of the capture page: who asks, what there is to walk, what the yard holds, and the signed record itself."""

from __future__ import annotations

import json
from datetime import datetime
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.gzip import gzip_page

from fleet.drawing import lap_svg
from fleet.models.carts import Cart
from fleet.models.evenness import EvennessSignature
from inspections import actions, heads_tests
from inspections.clocks import is_flagged
from inspections.editions import NoEdition
from inspections.heads_record import read_heads_record
from inspections.manifest import ManifestRefused, read_manifest
from inspections.models import SiteWalker, WalkRound
from inspections.reference import reference_for
from inspections.site_cookie import asks_for_a_hire, hire_asked_for, known_walker, put_cookie, token_in
from inspections.site_reference import site_reference
from inspections.views.change_over import people_on
from inspections.views.wire import for_whoever_walks, on_the_wire, whole_body, wrong_method
from inspections.walkers import Walker, person_of
from people.models import Staff
from people.problems import problem
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS
from people.say import say_all, typed
from people.tablets.here import hear_of, since, tablet_of

# What the page goes by and nobody reads.
CODES = frozenset(
    {
        "id",
        "csrf",
        "key",
        "check",
        "station",
        "place",
        "purposes_due",
        "rule_set",
        "time_zone",
        "sha256",
        "lap",
    }
)
RECORD_MOST_BYTES = 4 * 1024 * 1024
HELD_MOST_IDS = 100
TOO_LARGE = "This record is larger than any the page makes. Show it to the workshop manager."
OTHER_ID = "The record was sent under another id than its own."


@login_not_required
def hello(request: HttpRequest) -> HttpResponse:
    """Who is signed in, with a fresh token and the yard's time. Open: a tablet asks it to learn that it is signed out."""
    if request.method != "GET":
        return wrong_method("GET")
    at = timezone.now()
    if asks_for_a_hire(request):
        return _hello_on_a_hire(request, at)
    person = request.user if isinstance(request.user, Staff) else None
    may_walk, tablet = person is not None and person.has_role(WALKERS), tablet_of(request)
    told = _hello(request, person, may_walk=may_walk, at=at) | {
        "signed_in_at": since(request) if person else None,
        "tablet": {"name": tablet.name} if tablet else None,
    }
    answer = JsonResponse(told)
    hear_of(request, answer, at=at)
    return answer


def _hello(request: HttpRequest, walker: Walker | None, *, may_walk: bool, at: datetime) -> dict[str, object]:
    return {
        "version": 1,
        "server_time": at.isoformat(),
        # None for a stranger: making one here would spoil the sign-in form that is open beside it.
        "csrf": get_token(request) if walker else "",
        "person": person_of(walker) if walker else None,
        "may_walk": may_walk,
    }


def _hello_on_a_hire(request: HttpRequest, at: datetime) -> HttpResponse:
    """As for a person of the yard; the cookie is given again, since a hire may run longer than when it was first given."""
    line_id = hire_asked_for(request)
    walker = known_walker(request, line_id, at=at) if line_id else None
    response = JsonResponse(_hello(request, walker, may_walk=walker is not None, at=at) | {"tablet": None})
    if walker is not None:
        put_cookie(response, walker, token_in(request, walker.subject_id), at=at)
    return response


@gzip_page
@for_whoever_walks("GET")
def reference(request: HttpRequest, walker: Walker) -> HttpResponse:
    csrf, at = get_token(request), timezone.now()
    try:
        if isinstance(walker, SiteWalker):
            return JsonResponse(say_all(site_reference(walker, csrf=csrf, at=at), but=CODES))
        told = reference_for(walker, csrf=csrf, at=at)
    except NoEdition as refusal:
        return problem(409, "No check sheets", refusal.sentence)
    told = say_all(told, but=CODES)
    return JsonResponse(told | {"signed_in_at": since(request), "people": people_on(tablet_of(request))})


@for_whoever_walks("GET")
def lap(request: HttpRequest, walker: Walker, cart_id: UUID) -> HttpResponse:
    """The drawing of a cart, for whoever may walk it: on a hire, of its cart alone and while the hire runs."""
    is_theirs = isinstance(walker, Staff) or (walker.cart_id == cart_id and walker.over_at is None)
    cart = Cart.objects.for_drawing().filter(pk=cart_id).first() if is_theirs else None
    drawing = lap_svg(cart) if cart else ""
    if not drawing:
        return problem(404, "No drawing", "There is no drawing of this cart.")
    return HttpResponse(drawing, content_type="image/svg+xml")


@for_whoever_walks("GET")
def held(request: HttpRequest, walker: Walker) -> HttpResponse:
    """Which of the records asked about the yard holds, each with the hash it is held under; on a hire, of that hire alone."""
    asked = request.GET.getlist("id")
    if len(asked) > HELD_MOST_IDS:
        return problem(422, "Too many", f"At most {HELD_MOST_IDS} records can be asked about at once.")
    try:
        ids = [UUID(text) for text in asked]
    except ValueError:
        return problem(422, "No record’s id", "A record is asked about by its id.")
    walks = WalkRound.objects.filter(pk__in=ids)
    if isinstance(walker, SiteWalker):
        walks = walks.of_hire((walker.subject_kind, walker.subject_id))
    found = [*walks.values_list("pk", "manifest_sha256")]
    if isinstance(walker, Staff):
        found += EvennessSignature.objects.filter(pk__in=ids).values_list("pk", "record_sha256")
    return JsonResponse({"held": {str(record_id): sha256 for record_id, sha256 in found}})


def _json(raw: bytes) -> object:
    try:
        return typed(json.loads(raw))
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
        # A customer's person has no page of the yard to open.
        "page": "" if walk.is_from_site else reverse("inspections:walk_round_detail", args=[walk.pk]),
        "received_at": walk.received_at.isoformat(),
        "name_confirmed": walk.is_name_confirmed,
        "clock_flag": is_flagged(walk.clock_offset),
    }


@for_whoever_walks("PUT")
def walk_round(request: HttpRequest, walker: Walker, walk_id: UUID) -> HttpResponse:
    raw = whole_body(request, most_bytes=RECORD_MOST_BYTES, too_large=TOO_LARGE)
    try:
        manifest = read_manifest(_json(raw))
        if manifest.id != walk_id:
            raise ManifestRefused(OTHER_ID)
        walk, is_new = actions.sign_walk_round(manifest=manifest, by=walker, at=timezone.now())
    except actions.PhotosMissing as refusal:
        return problem(409, "Photos missing", refusal.sentence, photos_missing=refusal.missing)
    except actions.UnknownCart as refusal:
        return problem(404, "Unknown cart", refusal.sentence)
    except NotAllowed as refusal:
        return problem(403, "Not allowed", refusal.sentence)
    except Refusal as refusal:
        return problem(422, "Record refused", refusal.sentence)
    return JsonResponse(_told(walk), status=201 if is_new else 200)


@on_the_wire("PUT")
def heads_test(request: HttpRequest, person: Staff, record_id: UUID) -> HttpResponse:
    raw, at = whole_body(request, most_bytes=RECORD_MOST_BYTES, too_large=TOO_LARGE), timezone.now()
    try:
        record = read_heads_record(_json(raw))
        if record.id != record_id:
            raise ManifestRefused(OTHER_ID)
        test = heads_tests.sign_heads_test(record=record, by=person, at=at)
    except actions.UnknownCart as refusal:
        return problem(404, "Unknown cart", refusal.sentence)
    except NotAllowed as refusal:
        return problem(403, "Not allowed", refusal.sentence)
    except Refusal as refusal:
        return problem(422, "Record refused", refusal.sentence)
    return JsonResponse(say_all(heads_tests.told(test)), status=201 if test.recorded_at == at else 200)
