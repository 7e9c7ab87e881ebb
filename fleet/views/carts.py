"""The board of carts, one cart's page, and its details."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet import cart_page, cart_tables, screens
from fleet.actions import carts as actions
from fleet.actions import permits
from fleet.addresses import walk_url
from fleet.board import BOARD_HEAD, BoardRow, answers_for, board_rows, board_table
from fleet.cart_filter import CartFilter
from fleet.drawing import fitted_gear, lap_svg, pinned
from fleet.forms import AxlesForm, CartChangeForm, CartForm, MoveForm
from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.move_stops import move_stops
from fleet.moving import ROAD, holds_a_move
from fleet.panels import panels_of
from fleet.sentences import readiness_sentence
from fleet.views.asking import attempt, form_page, posted
from fleet.wheel_places import plans_of
from fleet.yards import several_yards, yards_for
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import DESK, EVERYBODY, FLEET_ONLY, MANAGERS, WALKERS, WORKSHOP
from people.yard import yard_day

PAGE = 50
HELD_MOVES = "This cart is held. Before it leaves the yard, a manager gives it a move permit: one trip, empty, by a named driver."


@require_safe
@for_roles(EVERYBODY)
def cart_list(request: HttpRequest) -> HttpResponse:
    """The yard's carts by fleet number. Only the carts of the page shown are judged, so ten thousand are as quick as ten."""
    at, person = timezone.now(), staff_of(request)
    filters = CartFilter(request.GET)
    yards = yards_for(request)
    carts = yards.narrow(filters.narrow(Cart.objects.all(), on=yard_day(at)))
    if wants_csv(request):
        return csv_response("carts", BOARD_HEAD, board_table(_by_number(carts, at=at)))
    page = Paginator(carts, PAGE).get_page(request.GET.get("page"))
    rows = _by_number(page, at=at)
    context = {
        "page_title": "Carts",
        "filters": filters,
        "yards": yards,
        "page": page,
        "rows": rows,
        "is_narrowed": filters.is_narrowed or bool(yards.name),
        "may_add": person.has_role(MANAGERS),
        "may_keep_papers": person.has_role(FLEET_ONLY),
    }
    return render(request, "fleet/cart_list.html", context)


def _by_number(carts: Iterable[Cart], *, at: datetime) -> list[BoardRow]:
    return sorted(board_rows(list(carts), at=at), key=lambda row: row.cart.fleet_number)


@require_safe
@for_roles(EVERYBODY)
def cart_detail(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """Can it go, and if not why; then all that is known of the cart."""
    at, person = timezone.now(), staff_of(request)
    cart = get_object_or_404(Cart.objects.for_drawing(), pk=cart_id)
    for name, head, rows in cart_tables.tables_of(cart, on=yard_day(at), at=at):
        if wants_csv(request, name):
            return csv_response(f"cart-{name}", head, rows)
    need, answer = answers_for([cart], at=at)[cart]
    defects = list(cart.defects.open().worst_first().for_list())
    on = yard_day(at)
    context = {
        "page_title": f"Cart {cart.fleet_number}",
        "cart": cart,
        "at": at,
        "need": need,
        "answer": answer,
        "sentence": readiness_sentence(answer),
        "stops": screens.stops_of(cart, answer, person=person),
        "due": screens.due_of(cart, answer.cautions, person=person),
        "limits": cart.limits.filter(lifted_at=None).select_related("set_by", "defect"),
        "passes": cart.passes.filter(closed_at=None).select_related(
            "given_by", "entered_by", "second_person"
        ),
        "holds": cart.holds.filter(lifted_at=None).select_related("placed_by", "photo"),
        "put_away": cart.put_aways.filter(ended_at=None).select_related("said_by").first(),
        "pins": pinned(defects),
        "lap": lap_svg(cart, defects=defects),
        "facts": cart_page.cart_facts(cart),
        "gear": sorted(GEAR.get(kind, kind) for kind in fitted_gear(cart)),
        "meters": cart_page.meter_lines(cart),
        "wheels": cart_page.wheel_lines(cart),
        "extinguishers": cart_page.extinguisher_lines(cart, on=on),
        "papers": cart_page.paper_lines(cart, on=on),
        "questions": cart_page.open_questions(cart),
        "journal": cart_page.journal_lines(cart),
        "panels": panels_of(cart, at=at),
        "walk_url": walk_url(cart.pk) if person.has_role(WALKERS) else "",
        "person": person,
        "may_manage": person.has_role(MANAGERS),
        "may_permit": person.has_role(MANAGERS) and any(holds_a_move(one.code) for one in answer.blockers),
        "may_work": person.has_role(WORKSHOP),
        "may_tell_water": person.has_role(WALKERS),
        "may_keep_papers": person.has_role(FLEET_ONLY),
        "may_transfer": person.has_role(MANAGERS | DESK) and bool(several_yards()),
    }
    return render(request, "fleet/cart_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def cart_add(request: HttpRequest) -> HttpResponse:
    form, axles = CartForm(request.POST or None), AxlesForm(request.POST or None, [])
    if request.method == "POST" and sum([form.is_valid(), axles.is_valid()]) == 2:
        cart = attempt(
            form,
            actions.add_cart,
            details=form.details(),
            axle_groups=axles.plans(),
            by=staff_of(request),
            at=timezone.now(),
        )
        if cart is not None:
            messages.success(
                request, f"Cart {cart.fleet_number} is in the fleet. Say next what is fitted to it."
            )
            _warn_of_vin(request, cart)
            return redirect("fleet:gear_list", cart.pk)
    return form_page(
        request, form, title="Add a cart", button="Add the cart", template="fleet/cart_form.html",
        axles=axles, faults=axles.faults(),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def cart_change(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    form = CartChangeForm.of(cart, request.POST or None)
    if request.method == "POST" and form.is_valid():
        changed = attempt(
            form,
            actions.change_cart,
            cart=cart,
            details=form.details(),
            by=staff_of(request),
            at=timezone.now(),
        )
        if changed is not None:
            messages.success(request, f"The details of cart {changed.fleet_number} are saved.")
            _warn_of_vin(request, changed)
            return redirect("fleet:cart_detail", changed.pk)
    return form_page(
        request, form, cart=cart, title="Change its details", button=f"Save cart {cart.fleet_number}",
        template="fleet/cart_form.html",
    )  # fmt: skip


def _warn_of_vin(request: HttpRequest, cart: Cart) -> None:
    note = cart_page.vin_note(cart.vin)
    if note:
        messages.warning(request, f"VIN {cart.vin} is kept as typed. {note}")


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def axles_change(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    axles = AxlesForm(request.POST or None, plans_of(cart.axle_groups.all()))
    form = Form(request.POST or None)
    if request.method == "POST" and sum([form.is_valid(), axles.is_valid()]) == 2:
        changed = attempt(
            form,
            actions.change_axle_groups,
            cart=cart,
            axle_groups=axles.plans(),
            by=staff_of(request),
            at=timezone.now(),
        )
        if changed is not None:
            messages.success(
                request, f"The axles of cart {cart.fleet_number} are saved; its wheel positions follow."
            )
            return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Change its axles", button=f"Save the axles of cart {cart.fleet_number}",
        template="fleet/cart_form.html", axles=axles, faults=axles.faults(),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def cart_move(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    is_held = bool(move_stops(cart, way=ROAD, at=at))
    form = MoveForm(
        request.POST or None,
        initial={name: getattr(cart, name) for name in ("where_kind", "where_words", "keys_words")},
        is_held=is_held,
    )
    moved = posted(request, form, permits.record_move, cart=cart, at=at)
    if moved is not None:
        messages.success(request, f"Cart {cart.fleet_number}: {moved.where_sentence}")
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Where it is", button=f"Record where cart {cart.fleet_number} is",
        must=HELD_MOVES if is_held else "",
        note="A cart that has moved needs a new pre-hire check before it goes out.",
    )  # fmt: skip
