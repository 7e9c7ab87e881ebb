"""The plan of the coming weeks, and booking a workshop day from it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models.carts import Cart
from fleet.views.asking import form_page, posted, press
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import DESK, MANAGERS, WORKSHOP
from people.yard import yard_day
from servicing import week_pages as pages
from servicing.models.plans import Visit
from servicing.service_actions import book_visit, cancel_visit
from servicing.service_forms import VisitForm, WeeksFilter

PAGE = 30


@require_safe
@for_roles(WORKSHOP | DESK)
def week_list(request: HttpRequest) -> HttpResponse:
    at, filters = timezone.now(), WeeksFilter(request.GET)
    carts = Cart.objects.in_fleet(on=yard_day(at))
    # Days are given out over the whole fleet, so that a narrowed list says the same of a cart as the whole one.
    rows = pages.narrowed(pages.week_rows(list(carts), at=at), filters)
    if words := filters.chosen("cart"):
        wanted = set(carts.found_by(words).values_list("pk", flat=True))
        rows = [row for row in rows if row.cart.pk in wanted]
    if wants_csv(request):
        return csv_response("coming-weeks", pages.WEEKS_HEAD, pages.week_table(rows))
    context = {
        "page_title": "Coming weeks",
        "filters": filters,
        "page": Paginator(rows, PAGE).get_page(request.GET.get("page")),
        "count": len(rows),
        "is_narrowed": any(filters.chosen(name) for name in filters.fields),
        "may_book": staff_of(request).has_role(MANAGERS),
        "may_plan": staff_of(request).has_role(WORKSHOP),
        "inputs": pages.order_inputs(),
    }
    return render(request, "servicing/week_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def visit_book(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    asked = {name: request.GET.get(name, "") for name in ("on", "words", "minutes")}
    first = {"where": request.GET.get("where", "yard")} | {
        name: value for name, value in asked.items() if value
    }
    form = VisitForm(request.POST or None, initial=first)
    if visit := posted(request, form, book_visit, cart=cart, at=at):
        messages.success(
            request,
            f"Cart {cart.fleet_number} is booked for {visit.on:%A} {visit.on.day} {visit.on:%b}: {visit.words}.",
        )
        return redirect("servicing:week_list")
    return form_page(
        request, form, cart=cart, title="Book a workshop day", button=f"Book cart {cart.fleet_number}",
        back=reverse("servicing:week_list"), back_label="the coming weeks",
        note="The hire desk sees the day wherever it offers this cart. It is no promise to a customer and stops no hire.",
    )  # fmt: skip


@require_POST
@for_roles(MANAGERS)
def visit_cancel(request: HttpRequest, visit_id: UUID) -> HttpResponse:
    visit = get_object_or_404(Visit.objects.select_related("cart"), pk=visit_id)
    done = f"The workshop day of cart {visit.cart.fleet_number} is cancelled."
    press(request, cancel_visit, visit=visit, done=done, at=timezone.now())
    return redirect("servicing:week_list")
