"""The alerts of the person's role, and taking one in hand."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from fleet.alerts.actions import take_alert
from fleet.alerts.models import Alert, SweepRun
from people.permissions import staff_of
from people.refusals import Refusal

# Three sweeps missed: an empty list then says nothing about the yard.
STALE_AFTER = timedelta(minutes=15)


@require_safe
def alert_list(request: HttpRequest) -> HttpResponse:
    person = staff_of(request)
    at = timezone.now()
    alerts = Alert.objects.open().for_role(person.role).select_related("cart", "taken_by").worst_first()
    last_sweep = SweepRun.objects.finished().order_by("-finished_at").first()
    context = {
        "page_title": "Alerts",
        "page": Paginator(alerts, 50).get_page(request.GET.get("page")),
        "last_sweep": last_sweep,
        "is_stale": last_sweep is None
        or at - (last_sweep.finished_at or last_sweep.started_at) > STALE_AFTER,
        "at": at,
    }
    return render(request, "alerts/alert_list.html", context)


@require_POST
def alert_take(request: HttpRequest, alert_id: UUID) -> HttpResponse:
    person = staff_of(request)
    # Another role's alert is not there for this person, found or not.
    alert = get_object_or_404(Alert.objects.for_role(person.role), pk=alert_id)
    try:
        take_alert(alert=alert, by=person, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"Yours: {alert.what}")
    back = request.POST.get("back", "")
    return redirect(
        back if url_has_allowed_host_and_scheme(back, {request.get_host()}) else "alerts:alert_list"
    )
