"""Fines and tolls, the sheet that says who had the cart, and who drove."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from hire import money_tables
from hire.actions import fines
from hire.fine_forms import DriverForm, FineForm
from hire.models.fines import Driver, Fine
from hire.views.asked import line_asked, of_a_hire
from hire.views.off_hire import answer
from hire.wet_screens import driven_words
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


@require_safe
@for_roles(DESK)
def fine_list(request: HttpRequest) -> HttpResponse:
    """Fines and tolls, the newest first; ?q= a notice, plate, cart or customer."""
    words = request.GET.get("q", "").replace("\x00", "").strip()
    found = Fine.objects.for_list()
    if words:
        found = found.filter(
            Q(notice_number__icontains=words)
            | Q(plate__icontains=words)
            | Q(line__cart__fleet_number__icontains=words)
            | Q(line__agreement__customer__name__icontains=words)
        )
    if wants_csv(request):
        return csv_response("fines-and-tolls", money_tables.FINE_HEAD, money_tables.fine_table(found))
    context = {
        "page_title": "Fines and tolls", "words": words,
        "page": Paginator(found.order_by("-made_at", "pk"), 50).get_page(request.GET.get("page")),
    }  # fmt: skip
    return render(request, "hire/fine_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def fine_add(request: HttpRequest) -> HttpResponse:
    form = FineForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            fine = fines.record_fine(notice=form.notice(), by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(
                request, f"{fine.line.agreement.customer.name} had {fine.line.cart.fleet_number}."
            )
            return redirect("hire:fine_detail", fine.pk)
    context = {
        "page_title": "Write down a fine or toll", "form": form, "button": "Write it down",
        "back_url": reverse("hire:fine_list"), "back_label": "fines and tolls",
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(DESK)
def fine_detail(request: HttpRequest, fine_id: UUID) -> HttpResponse:
    """Who had the cart then, to be printed and sent."""
    fine = of_a_hire(get_object_or_404(Fine.objects.for_list(), pk=fine_id))
    context = {
        "page_title": f"{fine.get_kind_display()}, notice {fine.notice_number}", "fine": fine, "line": fine.line,
        "at": timezone.now(), "drivers": fine.line.drivers.at(fine.happened_at).select_related("made_by"),
        "operators": driven_words(fine.line, at=fine.happened_at),
        "yard": (settings.YARD_NAME, settings.YARD_ADDRESS, settings.YARD_CONTACT),
    }  # fmt: skip
    return render(request, "hire/fine_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def driver_write(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    initial = {"from_at": line.handed_over_at, "told_by_words": line.agreement.customer.contact_name}
    form = DriverForm(request.POST or None, initial=initial)

    def act() -> str:
        driver = fines.write_driver(line=line, **form.cleaned_data, by=staff_of(request), at=timezone.now())
        return f"{driver.name} is written down as having driven {line.cart.fleet_number}."

    return answer(request, line, form, act, f"Who drove {line.cart.fleet_number}", button="Write it down")


@require_POST
@for_roles(DESK)
def driver_strike(request: HttpRequest, driver_id: UUID) -> HttpResponse:
    driver = fines.strike_driver(
        driver=get_object_or_404(Driver, pk=driver_id), by=staff_of(request), at=timezone.now()
    )
    messages.success(request, f"{driver.name} is struck out.")
    return redirect("hire:line_detail", driver.line_id)
