"""The cab card of a cart as a PDF: for the yard, and for who has a hire's link."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.models.carts import Cart
from hire.cab_card import card_pdf
from hire.models.links import CustomerLink
from hire.rights import ON_SITE
from hire.views.links import through_a_link
from people.permissions import for_roles
from people.roles import EVERYBODY


def _as_file(cart: Cart, *, rule_set: str = "") -> HttpResponse:
    response = HttpResponse(
        card_pdf(cart, at=timezone.now(), rule_set=rule_set), content_type="application/pdf"
    )
    response["Content-Disposition"] = f'inline; filename="cab-card-{cart.fleet_number}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-cache"
    return response


@require_safe
@for_roles(EVERYBODY)
def cab_card(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    return _as_file(get_object_or_404(Cart, pk=cart_id))


@through_a_link("GET", "HEAD", rights=ON_SITE)
def customer_cab_card(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    return _as_file(link.line.cart, rule_set=link.line.agreement.rule_set)
