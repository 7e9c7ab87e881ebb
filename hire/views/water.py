"""What water a cart carried on a hire that is over, told later than at its return, or put right."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.asking import attempt
from fleet.water_standing import standing_of
from hire.actions.water import TELLS, tell_water
from hire.load_forms import WaterToldForm
from hire.views.asked import line_asked
from people.permissions import for_roles, staff_of


@require_http_methods(["GET", "POST"])
@for_roles(TELLS)
def water_tell(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    kept = line.water_told.first()
    form = WaterToldForm(request.POST or None, initial={"source": kept.source if kept else ""})
    if request.method == "POST" and form.is_valid():
        told = attempt(
            form, tell_water, line=line, by=staff_of(request), at=timezone.now(), **form.cleaned_data
        )
        if told is not None:
            standing = standing_of(line.cart)
            messages.success(
                request, f"{told} is on record for this hire. For drinking water: {standing.sentence}"
            )
            return redirect("hire:line_detail", line.pk)
    context = {"page_title": f"Water carried by {line.cart.fleet_number}", "form": form, "line": line}
    return render(
        request,
        "hire/form.html",
        context | {"button": "Tell it"},
        status=422 if request.method == "POST" else 200,
    )
