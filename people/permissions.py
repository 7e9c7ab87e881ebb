"""The only deciders of who may open what by role. Views name a set of roles; object rules live beside their app."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

from people.models import Staff
from people.roles import Role

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


def staff_of(request: HttpRequest) -> Staff:
    """The person signed in. PermissionDenied when there is none: a page must not go on without an author."""
    if not isinstance(request.user, Staff):
        raise PermissionDenied
    return request.user


def for_roles(roles: frozenset[Role]) -> Callable[[View[P]], View[P]]:
    """A view only these roles may open; others get our 403 page."""

    def guard(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not staff_of(request).has_role(roles):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.allowed_roles = roles  # type: ignore[attr-defined]
        return guarded

    return guard
