"""Hours that both sides agreed for days of a hire, and that it was a mistake."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hire.actions.agreed_hours import agree_hours, strike_hours
from hire.charging.money import number, span_words
from hire.hours_forms import AgreedHoursForm
from hire.models.agreed_hours import AgreedHours
from hire.views.asked import line_asked
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def agreed_hours_add(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line, staff = line_asked(line_id), staff_of(request)
    initial = {"yard_name": staff.full_name, "customer_name": line.agreement.customer.contact_name}
    form = AgreedHoursForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            row = agree_hours(line=line, **form.cleaned_data, by=staff, at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            days = span_words(row.first_on, row.last_on)
            messages.success(request, f"{number(row.hours)} h are written down for {days}.")
            return redirect("hire:charges", line.pk)
    title = f"Agree hours of {line.cart.fleet_number}"
    context = {"page_title": title, "form": form, "line": line}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(DESK)
def agreed_hours_strike(request: HttpRequest, hours_id: UUID) -> HttpResponse:
    row = get_object_or_404(AgreedHours, pk=hours_id)
    why = request.POST.get("why", "").replace("\x00", "").strip()[:240] or "Written down by mistake"
    try:
        strike_hours(agreed=row, why=why, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"The hours of {span_words(row.first_on, row.last_on)} are no longer counted so."
        )
    return redirect("hire:charges", row.line_id)
