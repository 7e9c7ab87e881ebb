"""Which shared tablet a request comes from, by its cookie, and what a session remembers of how it began."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth import login, logout
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest, HttpResponse

from people.canonical import sha256_hex
from people.models import Staff
from people.tablets.models import PasswordSignIn, Tablet
from people.yard import yard_policy

# As long as browsers keep a cookie; it is set afresh whenever the tablet is heard of.
COOKIE_AGE = timedelta(days=400)
HEARD_OF_AFRESH = timedelta(hours=1)
# What a session says: since when, on which shared tablet, by PIN or not.
SINCE, TABLET, BY_PIN = "signed_in_at", "tablet", "by_pin"
# Where a request keeps what was looked up; no header has such a name.
_TABLET = "slake.tablet"
_BACKEND = f"{ModelBackend.__module__}.{ModelBackend.__name__}"


def tablet_of(request: HttpRequest) -> Tablet | None:
    """The shared tablet in use that this request comes from; looked up once a request."""
    if _TABLET not in request.META:
        token = request.COOKIES.get(settings.TABLET_COOKIE_NAME, "")
        request.META[_TABLET] = (
            Tablet.objects.in_use().filter(token_sha256=sha256_hex(token)).first() if token else None
        )
    found: Tablet | None = request.META[_TABLET]
    return found


def give_token(response: HttpResponse, token: str) -> None:
    """The cookie by which the tablet is known, kept as the session's own is."""
    response.set_cookie(
        settings.TABLET_COOKIE_NAME,
        token,
        max_age=COOKIE_AGE,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def hear_of(request: HttpRequest, response: HttpResponse, *, at: datetime) -> None:
    """Note at most once an hour that a shared tablet was heard of, and let its cookie live on."""
    tablet = tablet_of(request)
    if tablet is None or (tablet.last_seen_at and at - tablet.last_seen_at < HEARD_OF_AFRESH):
        return
    Tablet.objects.filter(pk=tablet.pk).update(last_seen_at=at)
    give_token(response, request.COOKIES[settings.TABLET_COOKIE_NAME])


def _mark(request: HttpRequest, *, at: datetime) -> None:
    request.session[SINCE] = at.isoformat()
    if (tablet := tablet_of(request)) is not None:
        request.session[TABLET] = str(tablet.pk)


def begin_by_password(request: HttpRequest, person: Staff, *, at: datetime) -> None:
    """Sign a person in whose password was given. On a shared tablet the session ends with the tablet."""
    login(request, person)
    _mark(request, at=at)


def begin_by_pin(request: HttpRequest, person: Staff, sign_in: PasswordSignIn, *, at: datetime) -> None:
    """Sign a person in whose PIN was given: a session with nothing of the one before, no longer than the PIN counts."""
    request.session.flush()
    login(request, person, backend=_BACKEND)
    _mark(request, at=at)
    request.session[BY_PIN] = True
    left = sign_in.at + yard_policy().tablet_sign_in_good - at
    request.session.set_expiry(min(left, timedelta(seconds=settings.SESSION_COOKIE_AGE)))


def began_by_pin(request: HttpRequest) -> bool:
    return bool(request.session.get(BY_PIN))


def since(request: HttpRequest) -> str | None:
    """When this session began: tells a page that somebody has signed in since it last asked."""
    return request.session.get(SINCE)


def end_with_tablet(request: HttpRequest) -> None:
    """Sign out a session that began on a shared tablet which was ended, or that turns up on another one."""
    began_on = request.session.get(TABLET)
    if began_on is None:
        return
    tablet = tablet_of(request)
    if tablet is None or str(tablet.pk) != began_on:
        logout(request)
