"""The alerts of the person's role, and taking one in hand."""

from __future__ import annotations

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


@require_safe
def alert_list(request: HttpRequest) -> HttpResponse:
    person = staff_of(request)
    alerts = Alert.objects.open().for_role(person.role).select_related("cart", "taken_by").worst_first()
    context = {
        "page_title": "Alerts",
        "page": Paginator(alerts, 50).get_page(request.GET.get("page")),
        "last_sweep": SweepRun.objects.finished().order_by("-finished_at").first(),
        "at": timezone.now(),
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
