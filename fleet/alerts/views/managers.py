"""For managers: who is on call, and what the week's alerts came to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.alerts.forms import OnCallForm
from fleet.alerts.models import OnCall
from fleet.alerts.report import (
    REPORT_HEAD,
    monday_in,
    monday_of,
    noisy_words,
    report,
    report_table,
    week_words,
)
from fleet.alerts.roster import put_on_call, take_off_call
from fleet.views.asking import posted, press
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles
from people.roles import MANAGERS
from people.yard import yard_day

ON_CALL_HEAD = ("Who", "From", "Until", "Called", "Mobile", "Email")


def _rows(turns: Iterable[OnCall]) -> Iterator[tuple[object, ...]]:
    for turn in turns:
        who, period = turn.person, turn.period
        yield who.full_name, period.lower, period.upper, turn.place, who.mobile, who.email


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def on_call_list(request: HttpRequest) -> HttpResponse:
    at, form = timezone.now(), OnCallForm(request.POST or None)
    turns = OnCall.objects.not_over(at=at)
    if wants_csv(request):
        return csv_response("on-call", ON_CALL_HEAD, _rows(turns))
    if turn := posted(request, form, put_on_call, at=at):
        messages.success(request, f"{turn.person.full_name} is on call then.")
        return redirect("alerts:on_call_list")
    context = {
        "page_title": "On call",
        "form": form,
        "turns": turns[:200],
        "at": at,
    }
    return render(
        request, "alerts/on_call_list.html", context, status=422 if request.method == "POST" else 200
    )


@require_POST
@for_roles(MANAGERS)
def on_call_remove(request: HttpRequest, turn_id: UUID) -> HttpResponse:
    turn = get_object_or_404(OnCall.objects.select_related("person"), pk=turn_id)
    done = f"{turn.person.full_name}'s turn is off the roster."
    press(request, take_off_call, turn=turn, done=done, at=timezone.now())
    return redirect("alerts:on_call_list")


@require_safe
@for_roles(MANAGERS)
def alert_report(request: HttpRequest) -> HttpResponse:
    """The week named in the address, or the one that is running."""
    at = timezone.now()
    this_week = monday_of(yard_day(at))
    monday = min(monday_in(request.GET.get("week", "")) or this_week, this_week)
    found = report(monday, at=at)
    if wants_csv(request):
        return csv_response(f"alerts-of-{week_words(monday)}", REPORT_HEAD, report_table(found))
    week = timedelta(days=7)
    context = {
        "page_title": "Alerts of the week",
        "report": found,
        "noisy": [noisy_words(row) for row in found.noisy],
        "earlier": week_words(monday - week),
        "later": week_words(monday + week) if monday < this_week else "",
    }
    return render(request, "alerts/report.html", context)
