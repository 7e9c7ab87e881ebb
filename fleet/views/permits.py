"""Move permits: given, looked at, printed, used for their one trip, withdrawn."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import permits as actions
from fleet.models.carts import Cart
from fleet.models.permits import MovePermit
from fleet.moving import CAUTION
from fleet.permit_forms import CameForm, MovePermitForm, WithdrawForm
from fleet.permit_page import line_of
from fleet.views.asking import attempt, form_page, photo_of, posted, press
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS, WALKERS
from people.yard import yard_policy


def _permit(permit_id: UUID) -> MovePermit:
    found = MovePermit.objects.select_related(
        "cart", "driver", "given_by", "left_by", "came_by", "withdrawn_by", "photo"
    )
    return get_object_or_404(found, pk=permit_id)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def permit_give(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at, person = get_object_or_404(Cart, pk=cart_id), timezone.now(), staff_of(request)
    form = MovePermitForm(
        request.POST or None, request.FILES or None, initial={"expires_at": at + yard_policy().permit_longest}
    )
    photo = photo_of(form, by=person, at=at)
    if request.method == "POST" and form.is_valid():
        permit = attempt(
            form, actions.give_move_permit, cart=cart, details=form.details(), photo=photo, by=person, at=at
        )
        if permit is not None:
            messages.success(
                request,
                f"Move permit {permit.number} is given. Print it for the driver of cart {cart.fleet_number}.",
            )
            return redirect("fleet:permit_detail", permit.pk)
    return form_page(
        request, form, cart=cart, title="Give a move permit", button=f"Give cart {cart.fleet_number} a move permit",
        lead="One trip of a held cart, empty. What holds it holds it still when it is there.", must=CAUTION,
    )  # fmt: skip


@require_safe
@for_roles(EVERYBODY)
def permit_detail(request: HttpRequest, permit_id: UUID) -> HttpResponse:
    permit, at, person = _permit(permit_id), timezone.now(), staff_of(request)
    line = line_of(permit, at=at)
    context = {
        "page_title": f"Move permit {permit.number}: cart {permit.cart.fleet_number}",
        "permit": permit,
        "cart": permit.cart,
        "line": line,
        "may_leave": line.state == "ready" and person.has_role(WALKERS),
        "may_withdraw": line.state in ("ready", "ended") and person.has_role(MANAGERS),
    }
    return render(request, "fleet/permit_detail.html", context)


@require_safe
@for_roles(EVERYBODY)
def permit_print(request: HttpRequest, permit_id: UUID) -> HttpResponse:
    """The permit as one sheet to print and hand to the driver."""
    permit = _permit(permit_id)
    context = {
        "page_title": f"Move permit {permit.number}",
        "permit": permit,
        "cart": permit.cart,
        "line": line_of(permit, at=timezone.now()),
        "caution": CAUTION,
        "ring": settings.YARD_ON_CALL,
    }
    return render(request, "fleet/permit_print.html", context)


@require_POST
@for_roles(WALKERS)
def permit_leave(request: HttpRequest, permit_id: UUID) -> HttpResponse:
    permit = _permit(permit_id)
    done = (
        f"Cart {permit.cart.fleet_number} has left on move permit {permit.number}. Record when it is there."
    )
    press(request, actions.leave_on_permit, permit=permit, done=done, at=timezone.now())
    return redirect("fleet:permit_detail", permit.pk)


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def permit_came(request: HttpRequest, permit_id: UUID) -> HttpResponse:
    permit = _permit(permit_id)
    cart = permit.cart
    form = CameForm(
        request.POST or None, initial={"where_kind": permit.to_kind, "where_words": permit.to_words}
    )
    if posted(request, form, actions.come_on_permit, permit=permit, at=timezone.now()) is not None:
        messages.success(
            request, f"Cart {cart.fleet_number} has come to its place. It is held still, as before the trip."
        )
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="It has come", button=f"Record where cart {cart.fleet_number} is",
        lead=f"The end of the trip of move permit {permit.number}.", back=reverse("fleet:permit_detail", args=[permit.pk]),
        back_label=f"move permit {permit.number}", note="A cart that has moved needs a new pre-hire check before it goes out.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def permit_withdraw(request: HttpRequest, permit_id: UUID) -> HttpResponse:
    permit = _permit(permit_id)
    form = WithdrawForm(request.POST or None)
    if posted(request, form, actions.withdraw_move_permit, permit=permit, at=timezone.now()) is not None:
        messages.success(request, f"Move permit {permit.number} is withdrawn.")
        return redirect("fleet:cart_detail", permit.cart_id)
    return form_page(
        request, form, cart=permit.cart, title="Withdraw the move permit", button=f"Withdraw move permit {permit.number}",
        lead="Only before the cart has left on it. Take the printed one back.",
        back=reverse("fleet:permit_detail", args=[permit.pk]), back_label=f"move permit {permit.number}",
    )  # fmt: skip
