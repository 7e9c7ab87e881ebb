"""The yards of the business, and carts sent from one to another."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import yards as actions
from fleet.models.carts import Cart
from fleet.models.yards import Yard
from fleet.views.asking import attempt, form_page, posted
from fleet.yard_forms import TransferForm, YardForm
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import DESK, FLEET_ONLY, MANAGERS
from people.words import samples
from people.yard import yard_day, yard_policy

YARD_HEAD = ("Yard", "Address", "Phone", "Carts")


def _counted(carts: QuerySet[Cart]) -> QuerySet[Yard]:
    """The yards with the number of their carts. One query."""
    own = (
        carts.filter(home_yard=OuterRef("name"))
        .order_by()
        .values("home_yard")
        .annotate(n=Count("pk"))
        .values("n")
    )
    return Yard.objects.annotate(carts=Coalesce(Subquery(own), 0))


@require_safe
@for_roles(FLEET_ONLY)
def yard_list(request: HttpRequest) -> HttpResponse:
    carts = Cart.objects.in_fleet(on=yard_day(timezone.now()))
    yards = _counted(carts)
    if wants_csv(request):
        rows = ((one.name, one.address, one.phone, one.carts) for one in yards)  # type: ignore[attr-defined]
        return csv_response("yards", YARD_HEAD, rows)
    homeless = carts.exclude(home_yard__in=Yard.objects.values("name"))
    context = {
        "page_title": "Yards",
        "yards": list(yards),
        "homeless": homeless.count(),
        "some": list(homeless.order_by("fleet_number")[:20]),
        "words": samples(yard_policy().rule_set),
    }
    return render(request, "fleet/yard_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def yard_add(request: HttpRequest) -> HttpResponse:
    form = YardForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        yard = attempt(form, actions.add_yard, **form.cleaned_data, by=staff_of(request), at=timezone.now())
        if yard is not None:
            messages.success(request, f"{yard.name} is a yard of ours.")
            return redirect("fleet:yard_list")
    return form_page(
        request,
        form,
        title="Add a yard",
        button="Add the yard",
        back=reverse("fleet:yard_list"),
        back_label="the yards",
    )


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def yard_change(request: HttpRequest, yard_id: UUID) -> HttpResponse:
    yard = get_object_or_404(Yard, pk=yard_id)
    form = YardForm(request.POST or None, initial={name: getattr(yard, name) for name in actions.FIELDS})
    changed = posted(request, form, actions.change_yard, yard=yard, at=timezone.now())
    if changed is not None:
        messages.success(request, f"{changed.name} is saved.")
        return redirect("fleet:yard_list")
    return form_page(
        request,
        form,
        title=f"Change {yard.name}",
        button="Save the yard",
        back=reverse("fleet:yard_list"),
        back_label="the yards",
    )


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS | DESK)
def cart_transfer(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    form = TransferForm(request.POST or None)
    moved = posted(request, form, actions.transfer_cart, cart=cart, at=timezone.now())
    if moved is not None:
        messages.success(request, f"Cart {moved.fleet_number} is at home in {moved.home_yard} from now on.")
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Send it to another yard", button=f"Make it the home of cart {cart.fleet_number}",
        note="A cart that has moved needs a new pre-hire check before it goes out.",
    )  # fmt: skip
