"""A shared tablet changes hands by PIN, and a name that came in under another's sign-in is confirmed by PIN."""

from __future__ import annotations

import json
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone

from inspections.actions import AlreadyConfirmed, confirm_name
from inspections.models import WalkRound
from inspections.views.wire import BodyRefused, on_the_wire, whole_body, wrong_method
from inspections.walkers import person_of
from people.models import Staff
from people.problems import problem
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS
from people.tablets.here import begin_by_pin, hear_of, tablet_of
from people.tablets.models import Pin, Tablet
from people.tablets.pins import PinMustWait, check_pin, holds_pin

BODY_MOST_BYTES = 1024
NOT_ENROLLED = "This tablet is not enrolled for changing over. Sign in with name and password."
TOO_LARGE = "A change-over is a person and a PIN."


def _given(request: HttpRequest, *names: str) -> list[str]:
    """The texts that came under these names. BodyRefused for anything else."""
    raw = whole_body(request, most_bytes=BODY_MOST_BYTES, too_large=TOO_LARGE)
    try:
        body = json.loads(raw)
    except (ValueError, RecursionError):
        body = None
    given = [body.get(name) for name in names] if isinstance(body, dict) else [None]
    texts = [one for one in given if isinstance(one, str)]
    if len(texts) < len(names):
        raise BodyRefused(422, "Not a PIN", "Choose a name, then give the six digits of its PIN.")
    return texts


def _must_wait(refusal: PinMustWait) -> HttpResponse:
    answer = problem(429, "Too many tries", refusal.sentence, wait_seconds=refusal.seconds)
    answer["Retry-After"] = str(refusal.seconds)
    return answer


@login_not_required
def change_over(request: HttpRequest) -> HttpResponse:
    """GET: a token to change over with, also for a shared tablet on which nobody is signed in. POST: whoever's PIN it is has
    the tablet, in a session of their own."""
    if request.method not in {"GET", "POST"}:
        return wrong_method("GET", "POST")
    # A customer's tablet has no staff, whatever cookies lie on it.
    tablet = None if "Slake-Hire" in request.headers else tablet_of(request)
    if tablet is None:
        return problem(403, "Not enrolled", NOT_ENROLLED)
    if request.method == "GET":
        answer: HttpResponse = JsonResponse({"csrf": get_token(request)})
        hear_of(request, answer, at=timezone.now())
        return answer
    try:
        return _taken_over(request, tablet, *_given(request, "person", "pin"))
    except BodyRefused as refusal:
        return problem(refusal.status, refusal.title, refusal.sentence)


def _taken_over(request: HttpRequest, tablet: Tablet, person_id: str, pin: str) -> HttpResponse:
    at = timezone.now()
    try:
        person, sign_in = check_pin(person_id=UUID(person_id), tablet=tablet, pin=pin, at=at)
    except ValueError:
        return problem(422, "Nobody", "That is nobody on this yard’s list. Choose a name.")
    except PinMustWait as refusal:
        return _must_wait(refusal)
    except Refusal as refusal:
        return problem(422, "Not changed over", refusal.sentence)
    begin_by_pin(request, person, sign_in, at=at)
    return JsonResponse({"person": person_of(person), "csrf": get_token(request)})


@on_the_wire("POST")
def name(request: HttpRequest, person: Staff, walk_id: UUID) -> HttpResponse:
    """The author of a walk-round says by PIN that it was them, whoever has the tablet."""
    walk = WalkRound.objects.with_name().filter(pk=walk_id).first()
    if walk is None:
        return problem(404, "Not here", "The yard does not have this walk-round yet. Send it first.")
    tablet = tablet_of(request)
    if tablet is None:
        return problem(
            403,
            "Not enrolled",
            "A PIN counts on an enrolled tablet only. Sign in and say so on the record’s page.",
        )
    (pin,) = _given(request, "pin")
    if walk.author_id is None:
        return problem(
            403, "Not one of us", "This was signed by a person of the customer’s, who has no PIN here."
        )
    if not walk.is_name_confirmed:
        at = timezone.now()
        try:
            author, _ = check_pin(person_id=walk.author_id, tablet=tablet, pin=pin, at=at)
            confirm_name(walk=walk, by=author, at=at, how="pin")
        except PinMustWait as refusal:
            return _must_wait(refusal)
        except AlreadyConfirmed:
            # Somebody said so a moment ago.
            pass
        except NotAllowed as refusal:
            return problem(403, "Not allowed", refusal.sentence)
        except Refusal as refusal:
            return problem(422, "Not confirmed", refusal.sentence)
    return JsonResponse({"name_confirmed": True})


def people_on(tablet: Tablet | None) -> list[dict[str, object]]:
    """Who may take a shared tablet, each with whether they have a PIN; nobody where the tablet is not shared."""
    if tablet is None:
        return []
    walkers = Staff.objects.filter(is_active=True, role__in=[role.value for role in WALKERS])
    pins = {pin.person_id: pin for pin in Pin.objects.filter(person__in=walkers)}
    return [
        {**person_of(person), "pin": holds_pin(person, pins.get(person.pk))}
        for person in walkers.order_by("full_name")
    ]
