"""A session of a shared tablet lives as long as the tablet is in use, and on that tablet alone."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from people.tablets.here import end_with_tablet


class TabletSessionMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if settings.SESSION_COOKIE_NAME in request.COOKIES:
            end_with_tablet(request)
        return self.get_response(request)
