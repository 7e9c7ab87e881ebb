"""One more cart on the agreement of a hire."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions.agreements import add_line
from hire.agreement_forms import OneMoreForm
from hire.beside import beside
from hire.views.asked import line_asked
from hire.wet_reading import usual_wants
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_one_more(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """For the same period, and wet where the first cart is, until somebody says otherwise."""
    at, line = timezone.now(), line_asked(line_id)
    agreement, promised = line.agreement, line.promised
    usual = {
        "starts_at": promised.lower,
        "ends_at": promised.upper,
        "goes": "dry" if usual_wants(agreement) is None else "wet",
    }
    form = OneMoreForm(request.POST or None, initial=usual)
    if request.method == "POST" and form.is_valid():
        try:
            more = add_line(agreement=agreement, **form.added(agreement), by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            done = f"{more.cart.fleet_number} is promised on {agreement.number} too."
            messages.success(request, " ".join([done, *beside(more, at=at)]))
            return redirect("hire:line_detail", more.pk)
    context = {
        "page_title": f"One more cart on {agreement.number}",
        "form": form,
        "line": line,
        "button": "Promise it",
    }
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
