"""The session cookie, where one browser's calls may cross a change of hands."""

from django.conf import settings
from django.contrib.sessions.middleware import SessionMiddleware
from django.http import HttpRequest, HttpResponse


class OwnSessionMiddleware(SessionMiddleware):
    """Takes a session's cookie away only where this very request ended the session.

    Django takes it away of every call whose session is gone. A call sent just before the tablet changed hands, and answered just
    after, would so sign out whoever has taken it: there is one cookie, and it is theirs by then.
    """

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        answer = super().process_response(request, response)
        name, session = settings.SESSION_COOKIE_NAME, getattr(request, "session", None)
        if session is not None and session.is_empty() and not session.modified:
            answer.cookies.pop(name, None)
        return answer
