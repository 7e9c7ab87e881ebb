"""That a cart worked on a day outside the week: who says so, and that it was a mistake."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hire.actions.worked_days import say_worked, strike_worked
from hire.charging.money import day_words
from hire.models.worked_days import WorkedDay
from hire.money_forms import WorkedDayForm
from hire.views.asked import line_asked
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def worked_day_add(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_asked(line_id)
    form = WorkedDayForm(request.POST or None, initial={"told_at": at})
    if request.method == "POST" and form.is_valid():
        try:
            row = say_worked(line=line, **form.cleaned_data, by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{day_words(row.on)} is written down as worked.")
            return redirect("hire:charges", line.pk)
    title = f"Say that {line.cart.fleet_number} worked on a day outside the week"
    context = {"page_title": title, "form": form, "line": line}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(DESK)
def worked_day_strike(request: HttpRequest, worked_id: UUID) -> HttpResponse:
    row = get_object_or_404(WorkedDay, pk=worked_id)
    why = request.POST.get("why", "").replace("\x00", "").strip()[:240] or "Written down by mistake"
    try:
        strike_worked(worked=row, why=why, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{day_words(row.on)} is no longer charged on that word.")
    return redirect("hire:charges", row.line_id)
