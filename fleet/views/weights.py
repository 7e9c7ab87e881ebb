"""A cart's road fill and weights: the page with its working and plot, the papers for the cab, and the forms that feed it."""

from __future__ import annotations

import hashlib
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_http_methods, require_safe

from fleet import dip_page as dips
from fleet import weight_page as pages
from fleet.actions import weights as actions
from fleet.addresses import cab_card_url
from fleet.models.carts import Cart
from fleet.models.weights import WeighbridgeTicket
from fleet.road_fill import DECIDES, road_fill, road_fill_words
from fleet.views.asking import attempt, form_page, photo_of, posted
from fleet.water.road import RoadFill
from fleet.weight_forms import PlateForms, TankForm, TicketForm, TicketStrikeForm
from fleet.weight_start import plates_given, tank_given
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS
from people.templatetags.screen import day_year
from people.yard import yard_day

PAGE = 50
LEVEL = (
    "On level ground, the cart stood still for a minute. A tank is a confined space: nobody goes in to measure it without the "
    "permit and the people for it."
)


@require_safe
@for_roles(EVERYBODY)
def weights(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    for name, head, table in pages.FILES:
        if wants_csv(request, name):
            return csv_response(f"{name}-{cart.fleet_number}", head, table(cart, at=at))
    found = road_fill(cart, on=yard_day(at))
    tickets = cart.weighbridge_tickets.select_related("recorded_by", "photo", "struck__struck_by")
    page = Paginator(tickets, PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": f"Road fill and weight: cart {cart.fleet_number}",
        "cart": cart,
        "panel": pages.shown(found),
        "page": page,
        "tickets": pages.ticket_rows(cart, list(page.object_list), found, at=at),
        "versions": pages.version_rows(cart, latest=pages.LATEST),
        "cab_card_url": cab_card_url(cart.pk),
        "may_manage": staff_of(request).has_role(MANAGERS),
    }
    return render(request, "fleet/weights.html", context)


@require_safe
@for_roles(EVERYBODY)
def load_plot(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The picture of its loads against its fill. Drawn only where the browser has not the same one already."""
    from fleet import load_plot as plot  # noqa: PLC0415 - for weight: no other page of the fleet pays for the drawing library

    found = road_fill(get_object_or_404(Cart, pk=cart_id), on=yard_day(timezone.now()))
    if not isinstance(found, RoadFill):
        raise Http404("This cart has no road fill to draw.")
    picture = plot.picture_of(found)
    etag = f'"{hashlib.sha256(repr(picture).encode()).hexdigest()[:32]}"'
    kept = get_conditional_response(request, etag=etag)
    response = kept or HttpResponse(plot.draw(picture), content_type="image/svg+xml")
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@require_safe
@for_roles(EVERYBODY)
def dip_table(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The dip table to print and stick beside the gauge."""
    cart = get_object_or_404(Cart, pk=cart_id)
    step = dips.step_of(request.GET.get("step"))
    table = dips.dip_table(cart, on=yard_day(timezone.now()), step_mm=step)
    if table is None:
        raise Http404("Nobody has measured the tank of this cart, so there is no dip table.")
    if wants_csv(request):
        return csv_response(f"dip-{cart.fleet_number}", dips.DIP_HEAD, dips.dip_rows(table))
    context = {
        "page_title": f"Dip table of cart {cart.fleet_number}", "cart": cart, "table": table, "steps": dips.STEPS_MM,
        "decides": DECIDES,
    }  # fmt: skip
    return render(request, "fleet/dip_table.html", context)


def _on_record(request: HttpRequest, cart: Cart, what: str) -> HttpResponse:
    """Say what is on record now, and what the road fill is by it."""
    found = road_fill(cart, on=yard_day(timezone.now()))
    tell = messages.success if isinstance(found, RoadFill) else messages.warning
    tell(request, f"{what} {road_fill_words(found)}")
    return redirect("fleet:weights", cart.pk)


def _ask(
    request: HttpRequest, form: Any, *, cart: Cart, title: str, button: str, **more: Any
) -> HttpResponse:
    back = reverse("fleet:weights", args=[cart.pk])
    return form_page(
        request,
        form,
        cart=cart,
        title=title,
        button=button,
        back=back,
        back_label="road fill and weight",
        **more,
    )


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def tank_measure(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    form = TankForm(request.POST or None, initial=tank_given(cart, on=yard_day(at)))
    if request.method == "POST" and form.is_valid():
        row = attempt(
            form, actions.measure_tank, cart=cart, details=form.details(), by=staff_of(request), at=at
        )
        if row is not None:
            return _on_record(request, cart, f"The tank of cart {cart.fleet_number} is on record.")
    return _ask(
        request, form, cart=cart, title="Measure the tank", button=f"Record the tank of cart {cart.fleet_number}",
        must=LEVEL, note="Measures are inside the tank. What was on record before stays on record.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def plates_record(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    forms = PlateForms(request.POST or None, *plates_given(cart, on=yard_day(at)))
    if request.method == "POST" and forms.is_valid():
        row = attempt(
            forms.sheet,
            actions.record_plates,
            cart=cart,
            details=forms.details(),
            by=staff_of(request),
            at=at,
        )
        if row is not None:
            return _on_record(request, cart, f"The plates of cart {cart.fleet_number} are on record.")
    return _ask(
        request, forms.sheet, cart=cart, title="Record its plates",
        button=f"Record the plates of cart {cart.fleet_number}", template="fleet/plates_form.html", groups=forms.forms,
        faults=forms.faults(),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def ticket_record(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at, person = get_object_or_404(Cart, pk=cart_id), timezone.now(), staff_of(request)
    form = TicketForm(request.POST or None, request.FILES or None, initial={"weighed_at": at})
    photo = photo_of(form, by=person, at=at)
    if request.method == "POST" and form.is_valid():
        row = attempt(
            form, actions.record_ticket, cart=cart, details=form.details(), photo=photo, by=person, at=at
        )
        if row is not None:
            return _on_record(request, cart, f"The ticket of cart {cart.fleet_number} is on record.")
    return _ask(
        request, form, cart=cart, title="Record a weighbridge ticket",
        button=f"Record the ticket of cart {cart.fleet_number}",
        note="Four tickets, from empty to nearly full, find where the tank bears. An approved weighbridge decides; a private one, "
        "or axles weighed one by one on a slope, less.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def ticket_strike(request: HttpRequest, row_id: UUID) -> HttpResponse:
    row = get_object_or_404(WeighbridgeTicket.objects.select_related("cart"), pk=row_id)
    form, cart = TicketStrikeForm(request.POST or None), row.cart
    if posted(request, form, actions.strike_ticket, ticket=row, at=timezone.now()):
        return _on_record(request, cart, f"Struck out on cart {cart.fleet_number}; it stays on record.")
    return _ask(
        request, form, cart=cart, title="Strike out a ticket", button="Strike it out",
        lead=f"Weighed on {day_year(row.weighed_at)}, {row.place_words}: {row.front_kg:,} and {row.rear_kg:,} kg.",
        note="It stays on record and counts for nothing.",
    )  # fmt: skip
