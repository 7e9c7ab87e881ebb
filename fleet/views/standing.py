"""What stands on a cart by a person's decision: holds and limits."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.actions import holds as actions
from fleet.actions.put_away import put_away as put_away_action
from fleet.forms import HoldForm, LiftHoldForm, PutAwayForm
from fleet.models.carts import Cart
from fleet.models.standing import Hold, Limit
from fleet.views.asking import form_page, photo_of, posted, press
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def put_away(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    form = PutAwayForm(request.POST or None, initial={"keys_words": cart.keys_words})
    said = posted(request, form, put_away_action, cart=cart, at=timezone.now())
    if said is not None:
        messages.success(request, f"Cart {cart.fleet_number} is put away locked. Keys: {said.keys_words}.")
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Put it away locked", button=f"Cart {cart.fleet_number} is locked, its keys are in",
        lead="Over days the yard is closed, its pre-hire check may hold longer where this was said.",
        must="Lock it, and hang up its keys, before you say so.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def hold_place(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at, person = get_object_or_404(Cart, pk=cart_id), timezone.now(), staff_of(request)
    form = HoldForm(request.POST or None, request.FILES or None)
    photo = photo_of(form, by=person, at=at)
    if posted(request, form, actions.place_hold, cart=cart, photo=photo, at=at):
        messages.success(
            request, f"Cart {cart.fleet_number} is tagged out and stays until the hold is lifted."
        )
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Tag it out", button=f"Tag out cart {cart.fleet_number}",
        lead="From now it does not go. A manager lifts the hold; an incident’s, the fleet manager alone.",
        must="Hang the tag and take the keys before you walk away from it.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def hold_lift(request: HttpRequest, hold_id: UUID) -> HttpResponse:
    hold = get_object_or_404(Hold.objects.select_related("cart", "placed_by"), pk=hold_id)
    form = LiftHoldForm(request.POST or None, hold=hold)
    if posted(request, form, actions.lift_hold, hold=hold, is_tag_off=False, at=timezone.now()):
        messages.success(request, f"The hold of cart {hold.cart.fleet_number} is lifted.")
        return redirect("fleet:cart_detail", hold.cart_id)
    return form_page(
        request, form, cart=hold.cart, title="Lift the hold", button=f"Lift the hold of cart {hold.cart.fleet_number}",
        lead=f"Tagged out by {hold.placed_by.full_name}: {hold.reason}",
    )  # fmt: skip


@require_POST
@for_roles(MANAGERS)
def limit_lift(request: HttpRequest, limit_id: UUID) -> HttpResponse:
    limit = get_object_or_404(Limit.objects.select_related("cart"), pk=limit_id)
    done = f"Lifted for cart {limit.cart.fleet_number}: {limit.words} Its defect stands again."
    press(request, actions.lift_limit, limit=limit, done=done, at=timezone.now())
    return redirect("fleet:cart_detail", limit.cart_id)
