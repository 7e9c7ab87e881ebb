"""Two middlewares: a request id with one log line, and pages that no cache may keep."""

import logging
import time
import uuid
from collections.abc import Callable
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers

from config.logs import request_id

Next = Callable[[HttpRequest], HttpResponse]
log = logging.getLogger("slake.request")


class RequestLogMiddleware:
    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        mark = request_id.set(uuid.uuid4().hex)
        began = time.monotonic()
        try:
            response = self.get_response(request)
            if not request.path.startswith(("/static/", "/healthz", "/readyz")):
                facts = {
                    "method": request.method,
                    "path": request.path,
                    "status": response.status_code,
                    "ms": round((time.monotonic() - began) * 1000),
                }
                log.info("request.answered", extra={"facts": facts})
            response["X-Request-Id"] = request_id.get()
            return response
        finally:
            request_id.reset(mark)


class WrongMethodMiddleware:
    """A page asked for in a way it does not answer says so in our words; the wire keeps its own answers."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code != HTTPStatus.METHOD_NOT_ALLOWED or request.path.startswith("/sync/"):
            return response
        page = render(request, "errors/405.html", status=HTTPStatus.METHOD_NOT_ALLOWED)
        page["Allow"] = response["Allow"]
        return page


class PrivatePagesMiddleware:
    """Everything but static files is private: a shared tablet's back button shows nothing after sign-out,
    and a fragment never comes back from a cache as a whole page."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            response["Cache-Control"] = "no-store"
        patch_vary_headers(response, ["HX-Request"])
        return response
