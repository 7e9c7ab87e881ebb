"""The last step before a page leaves: its words become those of the yard's rule set (people.say)."""

from __future__ import annotations

from collections.abc import Callable

from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse

from people.say import reading, say_page, typed, yard_words

Next = Callable[[HttpRequest], HttpResponse]
# A drawing has words too: its title, and what its places are called.
PAGES = ("text/html", "image/svg+xml")


def _is_page(response: HttpResponse) -> bool:
    """A page that may still be read: what is packed already was put into the yard's words where it was made."""
    is_open = not response.streaming and not response.has_header("Content-Encoding")
    return is_open and response.get("Content-Type", "").startswith(PAGES)


class WordsMiddleware:
    """Pages and their fragments in the yard's words. Not there at all where the words are those of the house.

    What was sent in is typed, so that it comes back as it was given.
    """

    def __init__(self, get_response: Next) -> None:
        if not yard_words():
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with reading():
            typed([*request.GET.values()])
            response = self.get_response(request)
            if _is_page(response):
                said = say_page(response.text)
                response.content = said.encode(response.charset)
            return response

    def process_view(self, request: HttpRequest, *_view: object) -> None:
        # The guard against forged forms, which came before, has read a form's body; no other body is read here.
        if request.method == "POST" and request.content_type in (
            "application/x-www-form-urlencoded",
            "multipart/form-data",
        ):
            typed([text for _, texts in request.POST.lists() for text in texts])
