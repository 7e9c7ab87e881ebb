"""What water a cart's tank carried and how it was sanitised: the record, and the forms that add to it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import water as actions
from fleet.models.carts import Cart
from fleet.models.water import Sanitising, WaterCarried
from fleet.views.asking import attempt, form_page, posted
from fleet.water_forms import FillForm, SanitisingForm, StrikeForm, WaterTestForm
from fleet.water_page import WATER_HEAD, lines_at, places_of, shown, water_table
from fleet.water_standing import CAUTION, standing_of
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS, WALKERS
from people.yard import yard_day

PAGE = 50


@require_safe
@for_roles(EVERYBODY)
def water_list(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, person = get_object_or_404(Cart, pk=cart_id), staff_of(request)
    if wants_csv(request):
        return csv_response(f"water-{cart.fleet_number}", WATER_HEAD, water_table(cart))
    page = Paginator(places_of(cart), PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": f"Water carried: cart {cart.fleet_number}",
        "cart": cart,
        "panel": shown(standing_of(cart)),
        "page": page,
        "lines": lines_at(cart, page.object_list),
        "may_tell_water": person.has_role(WALKERS),
        "may_manage": person.has_role(MANAGERS),
    }
    return render(request, "fleet/water_list.html", context)


def _told(request: HttpRequest, cart: Cart, what: str) -> HttpResponse:
    """Say what is on record now, and how the tank stands by it."""
    standing = standing_of(cart)
    tell = messages.success if standing.verdict == "may" else messages.warning
    tell(request, f"{what} For drinking water: {standing.sentence}")
    return redirect("fleet:water_list", cart.pk)


@require_http_methods(["GET", "POST"])
@for_roles(WALKERS)
def water_fill(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    form = FillForm(request.POST or None, initial={"filled_at": at})
    row = posted(request, form, actions.record_water, cart=cart, at=at)
    if row is not None:
        return _told(request, cart, f"{row.get_source_display()} is on record on cart {cart.fleet_number}.")
    return form_page(
        request, form, cart=cart, title="Record a fill", button=f"Record the fill of cart {cart.fleet_number}",
        must="A drinking-water tank that carries anything else may be lost to drinking water for good. " + CAUTION,
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WALKERS)
def tank_sanitise(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    form = SanitisingForm(request.POST or None, initial={"done_at": at})
    if request.method == "POST" and form.is_valid():
        row = attempt(
            form, actions.record_sanitising, cart=cart, details=form.details(), by=staff_of(request), at=at
        )
        if row is not None:
            return _told(request, cart, f"The sanitising of cart {cart.fleet_number} is on record.")
    return form_page(
        request, form, cart=cart, title="Record a sanitising",
        button=f"Record the sanitising of cart {cart.fleet_number}",
        must="Dose and time by the product’s label and local health rules. A tank is a confined space: nobody goes in without "
        "the permit and the people for it.",
        note="The test of its water is recorded after it, once the result is back.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WALKERS)
def sanitising_test(request: HttpRequest, row_id: UUID) -> HttpResponse:
    row = get_object_or_404(Sanitising.objects.select_related("cart"), pk=row_id)
    form, cart = WaterTestForm(request.POST or None), row.cart
    if posted(request, form, actions.record_test, sanitising=row, at=timezone.now()):
        return _told(request, cart, f"The test is on record on cart {cart.fleet_number}.")
    return form_page(
        request, form, cart=cart, title="Record the test of its water", button=f"Record the test of cart {cart.fleet_number}",
        lead=f"Sanitised on {yard_day(row.done_at):%-d %b %Y} by {row.by_words}.",
        back=reverse("fleet:water_list", args=[cart.pk]), back_label="water carried", note=CAUTION,
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def water_strike(request: HttpRequest, row_id: UUID) -> HttpResponse:
    row = get_object_or_404(WaterCarried.objects.select_related("cart"), pk=row_id)
    form, cart = StrikeForm(request.POST or None), row.cart
    if posted(request, form, actions.strike_water, row=row, at=timezone.now()):
        return _told(request, cart, f"Struck out on cart {cart.fleet_number}; it stays on record.")
    return form_page(
        request, form, cart=cart, title=f"Strike out: {row.get_source_display().lower()}", button="Strike it out",
        lead=f"Filled on {yard_day(row.filled_at):%-d %b %Y}, {row.place_words}.",
        must="Only where the tank never carried this. Cleaning a tank does not strike a fill out.",
        back=reverse("fleet:water_list", args=[cart.pk]), back_label="water carried",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def sanitising_strike(request: HttpRequest, row_id: UUID) -> HttpResponse:
    row = get_object_or_404(Sanitising.objects.select_related("cart"), pk=row_id)
    form, cart = StrikeForm(request.POST or None), row.cart
    if posted(request, form, actions.strike_sanitising, row=row, at=timezone.now()):
        return _told(request, cart, f"Struck out on cart {cart.fleet_number}; it stays on record.")
    return form_page(
        request, form, cart=cart, title="Strike out a sanitising", button="Strike it out",
        lead=f"Sanitised on {yard_day(row.done_at):%-d %b %Y} by {row.by_words}.",
        note="It stays on record and counts for nothing, its test with it.",
        back=reverse("fleet:water_list", args=[cart.pk]), back_label="water carried",
    )  # fmt: skip
