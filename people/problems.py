"""Problem details (RFC 9457) for the addresses that speak JSON only: never a redirect, never HTML."""

from __future__ import annotations

from django.http import JsonResponse

from people.say import say


def problem(status: int, title: str, sentence: str, **facts: object) -> JsonResponse:
    """A problem document; `sentence` is fit for the person's screen, `facts` are extra members."""
    body = {"type": "about:blank", "title": say(title), "status": status, "detail": say(sentence)} | facts
    return JsonResponse(body, status=status, content_type="application/problem+json")
