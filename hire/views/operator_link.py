"""What an operator sees through their link, without an account: the carts they are with, and their own dockets."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from hire.actions.daily import sign_daily
from hire.actions.operator_links import open_operator_link
from hire.daily_facts import missing_days
from hire.daily_screens import daily_rows
from hire.job_told import told_of
from hire.models.agreements import Line
from hire.models.daily import DailyDocket, DailyDocketQuerySet
from hire.models.operators import OperatorLink
from hire.views.asked import by_its_clock, of_a_hire
from hire.views.customer_calls import docket_page
from hire.views.daily import Way, as_typed, initial_of, write_page
from hire.views.links import through
from people.yard import yard_day

# Two months of days.
SHOWN = 60
COMING = 5


def _token(request: HttpRequest) -> str:
    return str(request.resolver_match.kwargs["token"]) if request.resolver_match else ""


def _way(request: HttpRequest) -> Way:
    token = _token(request)
    return Way(
        "layouts/plain.html", reverse("hire:operator_page", args=[token]), "your dockets",
        lambda made: reverse("hire:operator_daily", args=[token, made]),
    )  # fmt: skip


def _lines(link: OperatorLink) -> list[Line]:
    """The wet hires they were ever put down with, that are out."""
    rows = Line.objects.out_now().filter(
        wet__isnull=False, turns__operator=link.operator, turns__cancelled_at=None
    )
    return list(rows.distinct().for_list())


def line_of(link: OperatorLink, line_id: UUID) -> Line:
    """One of those; 404 for any other."""
    theirs = [one.pk for one in _lines(link)]
    return by_its_clock(get_object_or_404(Line.objects.filter(pk__in=theirs).for_list(), pk=line_id))


def _coming(link: OperatorLink) -> list[Line]:
    """Those they are put down with that have not left yet."""
    rows = Line.objects.to_come().filter(turns__operator=link.operator, turns__cancelled_at=None)
    return list(rows.distinct().order_by("promised").for_list()[:COMING])


def _dockets(link: OperatorLink) -> DailyDocketQuerySet:
    return DailyDocket.objects.filter(operator=link.operator).for_list()


@through(open_operator_link, "GET", "HEAD")
def operator_page(request: HttpRequest, link: OperatorLink) -> HttpResponse:
    lines = _lines(link)
    context = {
        "page_title": f"Dockets of {link.operator.own_name}",
        "token": _token(request),
        "on_call": settings.YARD_ON_CALL,
        "lines": lines,
        "coming": _coming(link),
        "missing": missing_days(lines, at=timezone.now()),
        "rows": daily_rows(_dockets(link).standing().unsigned_first()[:SHOWN]),
    }
    return render(request, "hire/operator_page.html", context)


@through(open_operator_link, "GET", "HEAD")
def operator_plan(request: HttpRequest, link: OperatorLink, line_id: UUID) -> HttpResponse:
    """Litres, dip, gear and speed of the job of a hire they go with, or are to go with."""
    theirs = [one.pk for one in (*_lines(link), *_coming(link))]
    line = by_its_clock(get_object_or_404(Line.objects.filter(pk__in=theirs).for_list(), pk=line_id))
    context = {
        "page_title": f"The job of {line.cart.fleet_number}",
        "token": _token(request),
        "on_call": settings.YARD_ON_CALL,
        "line": line,
        "told": told_of(line, on=yard_day(timezone.now())),
    }
    return render(request, "hire/operator_plan.html", context)


@csrf_exempt
@through(open_operator_link, "GET", "POST")
def operator_daily_add(request: HttpRequest, link: OperatorLink, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_of(link, line_id)
    initial = initial_of(line, request, at=at)
    return write_page(request, line, initial, operators=[link.operator], by=link, way=_way(request), at=at)


@csrf_exempt
@through(open_operator_link, "GET", "POST")
def operator_daily(request: HttpRequest, link: OperatorLink, docket_id: UUID) -> HttpResponse:
    """One of their dockets; the customer's person signs it on this phone."""
    at, way, token = timezone.now(), _way(request), _token(request)
    docket = of_a_hire(get_object_or_404(_dockets(link), pk=docket_id))
    return docket_page(
        request,
        docket,
        sign=lambda signed: sign_daily(docket=docket, signed=signed, by=link, at=at),
        address=way.made_url,
        back=(way.back_url, way.back_label),
        change_url=reverse("hire:operator_daily_replace", args=[token, docket.pk]),
    )


@csrf_exempt
@through(open_operator_link, "GET", "POST")
def operator_daily_replace(request: HttpRequest, link: OperatorLink, docket_id: UUID) -> HttpResponse:
    docket = of_a_hire(get_object_or_404(_dockets(link), pk=docket_id))
    return write_page(
        request, docket.line, as_typed(docket), operators=[link.operator], by=link, way=_way(request), replaces=docket,
        at=timezone.now(),
    )  # fmt: skip
