"""The cookie by which a customer's phone is known on one hire, and the header that says for which hire a call is."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from inspections.models import SiteWalker
from inspections.site_walkers import site_walker_by
from people.problems import problem

HIRE_HEADER = "Slake-Hire"
HIRE_KIND = "hire_line"
# Said wherever a phone is turned away: where it goes on, and that nothing is gone.
OPEN_AGAIN = (
    "Open the yard’s link again, or scan the plate and type the site code. Nothing on this phone is lost."
)


def cookie_name(line_id: UUID) -> str:
    """One cookie a hire, so that one phone can hold several."""
    return f"{settings.SITE_COOKIE_PREFIX}{line_id.hex}"


def put_cookie(response: HttpResponse, walker: SiteWalker, token: str, *, at: datetime) -> None:
    """Give the phone what it is known by, as long as it counts. Out of reach of scripts, and of other sites."""
    response.set_cookie(
        cookie_name(walker.subject_id),
        token,
        max_age=max(0, int((walker.expires_at - at).total_seconds())),
        path="/",
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def token_in(request: HttpRequest, line_id: UUID) -> str:
    return request.COOKIES.get(cookie_name(line_id), "")


def asks_for_a_hire(request: HttpRequest) -> bool:
    return HIRE_HEADER in request.headers


def hire_asked_for(request: HttpRequest) -> UUID | None:
    """The hire the call is for; None for what is no hire's id."""
    try:
        return UUID(request.headers.get(HIRE_HEADER, ""))
    except ValueError:
        return None


def known_walker(request: HttpRequest, line_id: UUID, *, at: datetime) -> SiteWalker | None:
    """Whom this phone's cookie names on a hire and may still be used by, its hire over or not."""
    token = token_in(request, line_id)
    walker = site_walker_by(token=token, subject=(HIRE_KIND, line_id), at=at) if token else None
    if walker is None or walker.revoked_at is not None or walker.expires_at <= at:
        return None
    return walker


def site_walker_of(request: HttpRequest, *, at: datetime) -> SiteWalker | HttpResponse:
    """Who asks for a hire, or why the phone is turned away. A staff session is never looked at."""
    line_id = hire_asked_for(request)
    token = token_in(request, line_id) if line_id else ""
    walker = site_walker_by(token=token, subject=(HIRE_KIND, line_id), at=at) if line_id and token else None
    if walker is None:
        return problem(401, "Not open here", f"This hire’s pre-start is not open on this phone. {OPEN_AGAIN}")
    if walker.revoked_at is not None:
        return problem(401, "Ended by the yard", f"The yard ended the pre-start on this phone. {OPEN_AGAIN}")
    if walker.expires_at <= at:
        return problem(401, "Run out", f"The pre-start on this phone has run out. {OPEN_AGAIN}")
    return walker
