"""Whose clock a page or a paper goes by: the yard's, unless it is of a hire that works in another time zone.

Rules never read this: they are handed the zone they count in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from people.yard import yard_policy

_shown: ContextVar[ZoneInfo | None] = ContextVar("shown_zone", default=None)


def shown_zone() -> ZoneInfo:
    """The zone by which times are shown, and typed, now."""
    return _shown.get() or yard_policy().zone


def shown_day(moment: datetime) -> date:
    return moment.astimezone(shown_zone()).date()


def show_by(zone: ZoneInfo) -> None:
    """From now on, until the request ends."""
    _shown.set(zone)


@contextmanager
def shown_by(zone: ZoneInfo) -> Iterator[None]:
    """Inside it, as for a paper made by the worker."""
    token = _shown.set(zone)
    try:
        yield
    finally:
        _shown.reset(token)


def zone_name(moment: datetime, zone: ZoneInfo) -> str:
    """How a zone's clock is called then, "AWST"; one that has no letters by its offset, "UTC+03"."""
    name = moment.astimezone(zone).tzname() or zone.key
    return name if name[0].isalpha() else f"UTC{name}"


def zone_mark(moment: datetime) -> str:
    """What stands after a time of another zone than the yard's, " AWST"; "" after the yard's own."""
    zone = shown_zone()
    return "" if zone.key == yard_policy().zone.key else f" {zone_name(moment, zone)}"


def shown_place() -> str:
    """Where the clock that is shown stands, "Perth", as a label says it; "" for the yard's own."""
    zone = shown_zone()
    return "" if zone.key == yard_policy().zone.key else zone.key.rpartition("/")[2].replace("_", " ")


class YardClockMiddleware:
    """Each request begins by the yard's clock, whatever the one before it in this thread was shown by."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with shown_by(yard_policy().zone):
            return self.get_response(request)
