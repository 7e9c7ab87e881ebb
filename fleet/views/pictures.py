"""Pictures: a cart's drawing, its photos, and the plate with its QR code."""

from __future__ import annotations

import logging
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.addresses import walk_url
from fleet.drawing import lap_svg
from fleet.forms import PlateForm
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.photos import store
from fleet.plate_code import plate_address, qr_svg
from people.models import Staff
from people.permissions import for_roles
from people.roles import EVERYBODY, WALKERS

log = logging.getLogger("slake.pictures")


@require_safe
@for_roles(EVERYBODY)
def lap(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The cart's lap drawing with its open defects pinned; the page that shows it dresses it."""
    cart = get_object_or_404(Cart.objects.for_drawing(), pk=cart_id)
    drawing = lap_svg(cart)
    if not drawing:
        raise Http404("This cart has no axle groups on record, so it cannot be drawn.")
    return HttpResponse(drawing, content_type="image/svg+xml")


@require_safe
@for_roles(EVERYBODY)
def photo(request: HttpRequest, photo_id: UUID) -> HttpResponse:
    """A photo as the yard keeps it, or its print size. Never from a public folder and never kept by a cache."""
    kept = get_object_or_404(Photo, pk=photo_id)
    name = kept.print_name if request.GET.get("size") == "print" else kept.stored_name
    try:
        picture = store.open(name)
    except (store.StoredFileMissing, store.StoredFileAltered) as error:
        # A picture that is not what was stored is no evidence of anything, so it is not shown.
        log.error("pictures.not_shown", extra={"facts": {"photo": str(kept.pk), "why": str(error)}})  # noqa: TRY400
        raise Http404("The file of this photo is missing or was altered.") from error
    response = HttpResponse(picture.getvalue(), content_type="image/jpeg")
    response["Content-Disposition"] = f'inline; filename="photo-{kept.original_sha256[:12]}.jpg"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@login_not_required
@require_safe
def plate(request: HttpRequest, code: str) -> HttpResponse:
    """Where a cart's QR plate leads: to the walk-round for who walks carts, to the cart's page for others of the yard, and
    for anybody else to the two ways on."""
    if not isinstance(request.user, Staff):
        return plate_page(request, code)
    cart = get_object_or_404(Cart, plate_code=code)
    if request.user.has_role(WALKERS):
        return redirect(walk_url(cart.pk))
    return redirect("fleet:cart_detail", cart.pk)


def plate_page(
    request: HttpRequest, code: str, form: PlateForm | None = None, *, status: int = 200
) -> HttpResponse:
    """What a plate shows to whoever is not signed in: the same whether there is such a cart or not, on hire or not."""
    context = {"page_title": "Scanned a plate", "code": code, "form": form or PlateForm()}
    return render(request, "fleet/plate_page.html", context, status=status)


@require_safe
@for_roles(EVERYBODY)
def plate_print(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The plate to print and rivet on: fleet number, QR code, and where it leads."""
    cart = get_object_or_404(Cart, pk=cart_id)
    address = plate_address(reverse("fleet:plate", args=[cart.plate_code]))
    context = {
        "page_title": f"QR plate of cart {cart.fleet_number}",
        "cart": cart,
        "address": address,
        "qr": qr_svg(address, label=f"QR code that opens cart {cart.fleet_number}"),
    }
    return render(request, "fleet/plate_print.html", context)
