"""Sending another cart on a hire that has not left."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions.another_cart import send_another
from hire.another_cart_forms import AnotherCartForm
from hire.beside import beside
from hire.swap_carts import carts_instead
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def another_cart(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    free = carts_instead(line, at=at)
    form = AnotherCartForm(request.POST or None, initial={"instead_of": line.cart_id}, free=free, line=line)

    def act() -> str:
        sent = send_another(line=line, **form.cleaned_data, by=by, at=at)
        done = (
            f"{sent.cart.fleet_number} goes on {sent.agreement.number}. Its certificate is issued once it is walked and fit; "
            "a site pack goes out again."
        )
        return " ".join([done, *beside(sent, at=at)])

    return answer(
        request, line, form, act, f"Send another cart than {line.cart.fleet_number}", button="Send this cart"
    )
