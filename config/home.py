"""The first page of each role, and the search that finds a cart from anywhere."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.alerts.models import Alert
from fleet.alerts.page import rows_of
from fleet.board import board_rows
from fleet.models.carts import Cart
from fleet.needs import next_need
from fleet.yards import Yards, yards_for
from people.permissions import staff_of
from people.roles import Role
from people.yard import yard_day


def _wanted(yards: Yards, *, at: datetime) -> list[Cart]:
    """Carts of the yard looked at that somebody wants. Only these are judged, so that a large yard's first page is as quick as
    a small one's."""
    carts = list(yards.narrow(Cart.objects.in_fleet(on=yard_day(at))))
    needs = next_need(carts, at=at)
    return [cart for cart in carts if cart.pk in needs]


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Yard hands go straight to the carts to walk; everybody else sees the yard's carts, soonest wanted first."""
    person, at = staff_of(request), timezone.now()
    if person.role == Role.YARD_HAND:
        return redirect("inspections:capture")
    asking = Alert.objects.for_person(person).asking(on=yard_day(at))
    alerts = asking.select_related("cart", "taken_by").worst_first()[:8]
    yards = yards_for(request)
    context = {
        "page_title": "Today",
        "yards": yards,
        "rows": [
            row
            for row in board_rows(_wanted(yards, at=at), at=at)
            if row.is_wanted_before(at + timedelta(days=2))
        ],
        "alerts": rows_of(list(alerts), at=at),
    }
    return render(request, "home.html", context)


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Carts by fleet number, plate or part of either; exactly one hit opens its page."""
    at, words = timezone.now(), request.GET.get("q", "").replace("\x00", "").strip()
    carts = list(Cart.objects.found_by(words).order_by("fleet_number")[:50]) if words else []
    if len(carts) == 1:
        return redirect("fleet:cart_detail", carts[0].pk)
    context = {
        "page_title": f"Carts matching “{words}”" if words else "Find a cart",
        "words": words,
        "rows": board_rows(carts, at=at),
    }
    return render(request, "find.html", context)
