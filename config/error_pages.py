"""Our own error pages. The 500 page makes no query and needs no context."""

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseServerError
from django.shortcuts import render
from django.template.loader import get_template

from people.problems import problem


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/400.html", status=400)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/403.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/404.html", status=404)


def server_error(request: HttpRequest, *args: Any) -> HttpResponse:
    return HttpResponseServerError(get_template("errors/500.html").render())


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    if request.path.startswith("/sync/"):
        return problem(
            403,
            "Token out of date",
            "This page was open for long. Send it again: the token is renewed by itself.",
        )
    return render(request, "errors/csrf.html", status=403)
