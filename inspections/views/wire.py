"""What every address of the wire keeps to: JSON in, JSON out, never a redirect and never a page.

Who asks is one of two, and never both. A call with the header `Slake-Hire` is a customer's phone on that hire: only that
hire's cookie counts. One without it is a person of the yard: only their session counts.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial, wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.request import UnreadablePostError
from django.utils import timezone

from inspections.site_cookie import asks_for_a_hire, site_walker_of
from inspections.walkers import Walker
from people.models import Staff
from people.problems import problem
from people.roles import WALKERS

P = ParamSpec("P")
Wire = Callable[Concatenate[HttpRequest, Staff, P], HttpResponse]
WalkersWire = Callable[Concatenate[HttpRequest, Walker, P], HttpResponse]
Answers = Callable[Concatenate[HttpRequest, P], HttpResponse]


class BodyRefused(Exception):
    """A body that is not looked at; the guard answers with this problem."""

    def __init__(self, status: int, title: str, sentence: str) -> None:
        super().__init__(sentence)
        self.status, self.title, self.sentence = status, title, sentence


def wrong_method(*methods: str) -> JsonResponse:
    refused = problem(405, "Wrong method", f"This address takes {' and '.join(methods)} only.")
    refused["Allow"] = ", ".join(methods)
    return refused


def _staff(request: HttpRequest) -> Staff | HttpResponse:
    """The person of the yard whose session this is, or the refusal."""
    if not isinstance(request.user, Staff):
        return problem(
            401, "Signed out", "You are signed out. Sign in again; nothing on this tablet is lost."
        )
    if not request.user.has_role(WALKERS):
        return problem(
            403, "Not for this role", "Walk-rounds are signed by yard hands, fitters and managers."
        )
    return request.user


def _whoever(request: HttpRequest) -> Walker | HttpResponse:
    return site_walker_of(request, at=timezone.now()) if asks_for_a_hire(request) else _staff(request)


def on_the_wire(*methods: str) -> Callable[[Wire[P]], Answers[P]]:
    """A view for the yard's own people: these methods, a signed-in walker handed in, 401 and 403 as problem documents."""

    def guard(view: Wire[P]) -> Answers[P]:
        @login_not_required
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if request.method not in methods:
                return wrong_method(*methods)
            if asks_for_a_hire(request):
                return problem(
                    403, "For the yard only", "This is for the yard’s own people and their tablets."
                )
            person = _staff(request)
            if isinstance(person, HttpResponse):
                return person
            return _answered(partial(view, request, person, *args, **kwargs))

        guarded.allowed_roles = WALKERS  # type: ignore[attr-defined]
        return guarded

    return guard


def for_whoever_walks(*methods: str) -> Callable[[WalkersWire[P]], Answers[P]]:
    """A view for whoever walks carts, of the yard or on a hire: as `on_the_wire`, the walker handed in."""

    def guard(view: WalkersWire[P]) -> Answers[P]:
        @login_not_required
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if request.method not in methods:
                return wrong_method(*methods)
            walker = _whoever(request)
            if isinstance(walker, HttpResponse):
                return walker
            return _answered(partial(view, request, walker, *args, **kwargs))

        guarded.allowed_roles = WALKERS  # type: ignore[attr-defined]
        return guarded

    return guard


def _answered(view: Callable[[], HttpResponse]) -> HttpResponse:
    try:
        return view()
    except BodyRefused as refusal:
        return problem(refusal.status, refusal.title, refusal.sentence)


def _announced(request: HttpRequest) -> int:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


def whole_body(request: HttpRequest, *, most_bytes: int, too_large: str) -> bytes:
    """The body as it was sent, all of it. BodyRefused with `too_large` when it is over `most_bytes`, told by its length
    before a byte of it is read; and when the line broke before its end, which is nobody's fault and passes."""
    announced = _announced(request)
    if announced > most_bytes:
        raise BodyRefused(413, "Too large", too_large)
    try:
        body = request.body
    except RequestDataTooBig as error:
        raise BodyRefused(413, "Too large", too_large) from error
    except UnreadablePostError:
        body = b""
    if len(body) < announced:
        raise BodyRefused(408, "Cut short", "The line broke while this was being sent. Send it again.")
    return body
