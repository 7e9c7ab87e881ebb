"""The alerts of one person: listed, kept up to date, taken in hand, set aside."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import cast
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.alerts.actions import bring_alert_back, is_sweep_late, set_alert_aside, take_alert
from fleet.alerts.forms import AlertFilter, AsideForm
from fleet.alerts.models import Alert, AlertQuerySet, Delivery, SweepRun
from fleet.alerts.page import ALERT_HEAD, alert_table, groups_of, mark_of, rows_of
from fleet.views.asking import form_page, posted
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import staff_of
from people.refusals import Refusal
from people.roles import MANAGERS
from people.yard import yard_day

PAGE_ROWS = 50


def _own(person: Staff, alert_id: UUID) -> Alert:
    """Another role's alert is not there for this person, found or not."""
    return get_object_or_404(Alert.objects.for_person(person).select_related("cart"), pk=alert_id)


def _listed(request: HttpRequest, *, at: datetime) -> dict[str, object]:
    """What the list shows for this person and this address, and the mark by which it knows whether anything changed."""
    person, filters = staff_of(request), AlertFilter(request.GET)
    filters.is_valid()
    alerts = filters.narrow(Alert.objects.for_person(person), at=at)
    last = SweepRun.objects.last_finished_at()
    is_stale = last is None or is_sweep_late(last, at=at)
    return {
        "filters": filters,
        "alerts": alerts,
        "last_sweep_at": last,
        "is_stale": is_stale,
        "mark": mark_of(alerts, is_late=is_stale),
        "live_query": _query(request),
        "at": at,
    }


def _query(request: HttpRequest) -> str:
    query = request.GET.copy()
    query.pop("seen", None)
    return query.urlencode()


def _filled(found: dict[str, object], request: HttpRequest, *, at: datetime) -> dict[str, object]:
    """With the rows: by rule where nothing narrows to one rule, else a page of them."""
    filters, alerts = found["filters"], found["alerts"]
    assert isinstance(filters, AlertFilter)
    is_flat = filters.chosen("rule") or filters.chosen("shown") or filters.chosen("cart")
    if not is_flat:
        return found | {"groups": groups_of(alerts, at=at)}  # type: ignore[arg-type]
    chosen = alerts.select_related("cart", "taken_by", "held_by").worst_first()  # type: ignore[attr-defined]
    page = Paginator(chosen, PAGE_ROWS).get_page(request.GET.get("page"))
    return found | {"page": page, "rows": rows_of(list(page), at=at)}


@require_safe
def alert_list(request: HttpRequest) -> HttpResponse:
    at, person = timezone.now(), staff_of(request)
    found = _listed(request, at=at)
    if wants_csv(request):
        return csv_response("alerts", ALERT_HEAD, alert_table(cast("AlertQuerySet", found["alerts"]), at=at))
    context = _filled(found, request, at=at) | {
        "page_title": "Alerts",
        "may_report": person.has_role(MANAGERS),
        "failing": Delivery.objects.failing().filter(given_up_at=None).count()
        if person.has_role(MANAGERS)
        else 0,
    }
    return render(request, "alerts/alert_list.html", context)


@require_safe
def alert_live(request: HttpRequest) -> HttpResponse:
    """The list alone, for a page that has stood open; nothing (204) while it shows what there is. Reading never extends a
    session: twelve hours after signing in it ends, looked at or not."""
    at = timezone.now()
    found = _listed(request, at=at)
    if request.GET.get("seen") == found["mark"]:
        return HttpResponse(status=204)
    return render(request, "alerts/_list.html", _filled(found, request, at=at))


@require_safe
def alert_count(request: HttpRequest) -> HttpResponse:
    """How many ask now, for the head of a page that has stood open; nothing (204) while it says so already."""
    count = Alert.objects.for_person(staff_of(request)).asking(on=yard_day(timezone.now())).count()
    if request.GET.get("seen") == str(count):
        return HttpResponse(status=204)
    return render(request, "components/alert_count.html", {"alert_count": count})


def _back(request: HttpRequest) -> str:
    back = request.POST.get("back", "")
    return (
        back if url_has_allowed_host_and_scheme(back, {request.get_host()}) else reverse("alerts:alert_list")
    )


def _pressed(request: HttpRequest, alert_id: UUID, call: Callable[..., Alert], done: str) -> HttpResponse:
    person = staff_of(request)
    alert = _own(person, alert_id)
    try:
        call(alert=alert, by=person, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{done}: {alert.what}")
    return redirect(_back(request))


@require_POST
def alert_take(request: HttpRequest, alert_id: UUID) -> HttpResponse:
    return _pressed(request, alert_id, take_alert, "Yours")


@require_POST
def alert_bring_back(request: HttpRequest, alert_id: UUID) -> HttpResponse:
    return _pressed(request, alert_id, bring_alert_back, "Asks again")


@require_http_methods(["GET", "POST"])
def alert_set_aside(request: HttpRequest, alert_id: UUID) -> HttpResponse:
    alert, at, form = _own(staff_of(request), alert_id), timezone.now(), AsideForm(request.POST or None)
    if posted(request, form, set_alert_aside, alert=alert, at=at):
        messages.success(request, f"Set aside: {alert.what}")
        return redirect("alerts:alert_list")
    return form_page(
        request, form, title="Set this alert aside", button="Set it aside", back=reverse("alerts:alert_list"),
        back_label="the alerts", lead=alert.what, must=alert.if_not,
        note="Two weeks at most. It asks again at once if it becomes a stop.",
    )  # fmt: skip
