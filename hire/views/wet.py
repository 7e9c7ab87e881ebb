"""Whether a cart goes with an operator of ours, and which."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.asking import posted
from hire.actions import wet as acts
from hire.forms import WhyForm
from hire.models.operators import OperatorTurn
from hire.operator_forms import TurnForm, WetForm
from hire.views.asked import line_asked, of_a_hire
from hire.views.off_hire import answer
from hire.wet_reading import choices_for, wants_at, wets_of
from people.permissions import for_roles, staff_of
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_wet(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_asked(line_id)
    wet = line.wet if hasattr(line, "wet") else None
    about = line.agreement
    wants = wet.wants if wet else wants_at(about.customer, about.place_of_work)
    form = WetForm(request.POST or None, initial={"goes": "wet", "wants": wants})

    def act() -> str:
        if form.cleaned_data["goes"] == "dry":
            acts.set_dry(line=line, by=staff_of(request), at=at)
            return f"{line.cart.fleet_number} goes without an operator of ours."
        acts.set_wet(line=line, wants=form.cleaned_data["wants"], by=staff_of(request), at=at)
        return f"{line.cart.fleet_number} is wet hire. Put an operator with it."

    return answer(request, line, form, act, f"Wet or dry: {line.cart.fleet_number}", button="Save")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def operator_put(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """Everybody in the book with what stands in the way of each for this hire."""
    at, line = timezone.now(), line_asked(line_id)
    wet = wets_of([line.pk]).get(line.pk)
    if wet is None:
        messages.error(request, f"{line.cart.fleet_number} goes dry. Make it wet hire first.")
        return redirect("hire:line_wet", line.pk)
    start, end = max(line.promised.lower, at) if line.is_out else line.promised.lower, line.promised.upper
    end = max(end, start)
    form = TurnForm(
        request.POST or None,
        initial={"starts_at": start, "ends_at": end},
        choices=choices_for([wet.asks], start=start, end=max(end, at), at=at)[wet.asks],
        shifts=line.agreement.shifts,
    )
    turn = posted(request, form, acts.put_operator, line=line, at=at)
    if turn is not None:
        messages.success(request, f"{turn.operator} goes with {line.cart.fleet_number}.")
        return redirect("hire:line_detail", line.pk)
    context = {"page_title": f"Put an operator with {line.cart.fleet_number}", "form": form, "line": line}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def operator_take_off(request: HttpRequest, turn_id: UUID) -> HttpResponse:
    turn = of_a_hire(get_object_or_404(OperatorTurn.objects.for_list(), pk=turn_id))
    form = WhyForm(request.POST or None)

    def act() -> str:
        acts.take_off(turn=turn, why=form.cleaned_data["why"], by=staff_of(request), at=timezone.now())
        return f"{turn.operator} is off the hire of {turn.line.cart.fleet_number}."

    return answer(request, turn.line, form, act, f"Take {turn.operator} off {turn.line.cart.fleet_number}")
