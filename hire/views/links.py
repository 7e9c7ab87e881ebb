"""The door of every page behind a customer's link."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions import links
from hire.models.links import CustomerLink
from hire.rights import ANYBODY
from hire.views.asked import of_a_hire

P = ParamSpec("P")
L = TypeVar("L")
Opened = Callable[..., HttpResponseBase]


def through(
    opens: Callable[..., L | None], *methods: str
) -> Callable[[Callable[Concatenate[HttpRequest, L, P], HttpResponseBase]], Opened]:
    """Opens a link by its token or says 404: unknown, expired and ended look the same. Nothing here is cached, sent on as a
    referrer or indexed."""

    def guard(view: Callable[Concatenate[HttpRequest, L, P], HttpResponseBase]) -> Opened:
        @login_not_required
        @require_http_methods(methods)
        @wraps(view)
        def opened(
            request: HttpRequest, /, token: str, *args: P.args, **kwargs: P.kwargs
        ) -> HttpResponseBase:
            link = opens(token=token, at=timezone.now())
            response: HttpResponseBase | None = None
            if link is not None:
                # What is not this link's is answered like a link that opens nothing, headers and all.
                with suppress(Http404):
                    response = view(request, link, *args, **kwargs)
            return kept_close(response or nothing_opens(request))

        return opened

    return guard


def nothing_opens(request: HttpRequest) -> HttpResponseBase:
    """The page of a link that opens nothing, whichever and why, with the numbers to ring."""
    gone = {"page_title": "Link not open", "on_call": settings.YARD_ON_CALL, "contact": settings.YARD_CONTACT}
    return render(request, "hire/link_gone.html", gone, status=404)


def kept_close(response: HttpResponseBase, *, referrer: str = "no-referrer") -> HttpResponseBase:
    """The answer, neither cached nor indexed. referrer: what the browser tells the next page of this one's address."""
    response["Cache-Control"] = "no-store"
    response["Referrer-Policy"] = referrer
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


def through_a_link(
    *methods: str, rights: frozenset[str] = ANYBODY
) -> Callable[[Callable[Concatenate[HttpRequest, CustomerLink, P], HttpResponseBase]], Opened]:
    """A page of one hire's link, for those whose rights these are; to the others it is a link that opens nothing."""

    def opens(*, token: str, at: datetime) -> CustomerLink | None:
        link = links.open_link(token=token, at=at)
        if link is None or link.rights not in rights:
            return None
        return of_a_hire(link)

    return through(opens, *methods)
