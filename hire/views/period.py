"""Changing a hire's period: what the new one brings is shown before it is kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.readiness import readiness
from hire import screens
from hire.actions.agreements import move_line
from hire.beside import beside
from hire.booking_carts import without_cart
from hire.forms import PeriodForm
from hire.models.agreements import Line
from hire.period_change import period_change
from hire.promises import window_of
from hire.views.asked import line_asked
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


def _brings(line: Line, starts_at: datetime, ends_at: datetime, *, at: datetime) -> dict[str, object]:
    """What a period brings: what stops the cart in it, the hire it would run into first, what falls due while out, which open
    bookings would lose or gain a cart by the best choice for all of them, and what it costs against the one promised."""
    start = at if line.is_out and at < ends_at else starts_at
    window = replace(window_of(line), start=start, end=ends_at, asks_gate=not line.is_out)
    answer = readiness(line.cart, window=window, at=at)
    before = without_cart(at=at)
    after = without_cart(at=at, moved=(line, (starts_at, ends_at)))
    cost = period_change(line, starts_at, ends_at)
    return {
        "cost": None if isinstance(cost, str) else cost,
        "no_cost": cost if isinstance(cost, str) else "",
        "runs_into": any(blocker.code == "hire.overlap" for blocker in answer.blockers),
        "stops": screens.stop_rows(answer),
        "cautions": screens.caution_rows(answer),
        "beside": beside(line, at=at, period=(starts_at, ends_at)),
        "lost": [booking.words(at=at) for key, booking in after.items() if key not in before],
        "gained": [booking.words(at=at) for key, booking in before.items() if key not in after],
        # The two times that were looked at: changed ones are looked at anew.
        "looked": f"{starts_at.isoformat()} {ends_at.isoformat()}",
    }


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_move(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """The first press shows what the period brings, the second keeps it."""
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    promised = line.promised
    form = PeriodForm(request.POST or None, initial={"starts_at": promised.lower, "ends_at": promised.upper})
    brings: dict[str, object] = {}
    if request.method == "POST" and form.is_valid():
        # A cart that is out keeps its start.
        starts_at = promised.lower if line.is_out else form.cleaned_data["starts_at"]
        ends_at = form.cleaned_data["ends_at"]
        if starts_at < ends_at:
            brings = _brings(line, starts_at, ends_at, at=at)
        if not brings or request.POST.get("looked") == brings["looked"]:
            try:
                moved = move_line(line=line, starts_at=starts_at, ends_at=ends_at, by=by, at=at)
            except Refusal as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
            else:
                messages.success(request, " ".join(["The period is changed.", *beside(moved, at=at)]))
                return redirect("hire:line_detail", line.pk)
    context = {"page_title": f"Change the period of {line.cart.fleet_number}", "form": form, "line": line}
    return render(request, "hire/line_move.html", context | brings, status=422 if form.errors else 200)
