"""Swapping a broken cart on its hire."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions.swap import swap_cart
from hire.beside import beside
from hire.forms import SwapForm
from hire.pick_up import fetched_by
from hire.risk import risk_agreed
from hire.swap_carts import asks_end, carts_for_the_rest
from hire.views.asked import line_asked
from hire.views.off_hire import answer, pick_up_of
from people.permissions import for_roles, staff_of
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_swap(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    about = line.agreement
    initial = {
        "swapped_at": at,
        "called_by_words": about.customer.contact_name,
        "pick_up_words": about.place_of_work,
        "risk_words": risk_agreed(line),
        "back_by": fetched_by(at),
    }
    form = SwapForm(
        request.POST or None,
        initial=initial,
        free=carts_for_the_rest(line, at=at),
        asks_end=asks_end(line, at=at),
        is_over=line.promised.upper <= at,
    )

    def act() -> str:
        typed = form.cleaned_data
        new = swap_cart(
            line=line,
            cart=typed["cart"],
            swapped_at=typed["swapped_at"],
            called_by_words=typed["called_by_words"],
            why=typed["why"],
            pick_up=pick_up_of(typed),
            expected_back=typed.get("expected_back"),
            by=by,
            at=at,
        )
        done = (
            f"{new.cart.fleet_number} takes the place of {line.cart.fleet_number}. Walk it and hand it over; the customer’s "
            "links open it already."
        )
        return " ".join([done, *beside(new, at=at)])

    return answer(request, line, form, act, f"Swap {line.cart.fleet_number}")
