"""A cart's spray figures with the driver's table, and the tests of its heads."""

from __future__ import annotations

import hashlib
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_http_methods, require_safe

from fleet import spray_page
from fleet.actions import spraying as actions
from fleet.models.carts import Cart
from fleet.models.evenness import EvennessTest
from fleet.models.spraying import SpraySheet
from fleet.spray_forms import EvennessForm, SprayAskForm, SpraySheetForm
from fleet.views.asking import attempt, form_page
from fleet.water.evenness import Evenness
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, WALKERS, WORKSHOP
from people.yard import yard_day, yard_policy

PAGE, VERSIONS, PLOTTED = 50, 20, 24


def _sheet(cart: Cart, version: str = "") -> SpraySheet | None:
    """The version asked for, or the newest."""
    sheets = cart.spray_sheets.whole().order_by("-version")
    if version.isascii() and version.isdecimal() and len(version) < 6:
        return get_object_or_404(sheets, version=int(version))
    return sheets.first()


def _table(request: HttpRequest, cart: Cart, sheet: SpraySheet) -> tuple[dict[str, object], int]:
    """The driver's table as asked by the address, and the page's status."""
    figures = sheet.figures()
    form = SprayAskForm(
        request.GET or None, openings=[one.name for one in figures.openings], capacity_l=cart.tank_capacity_l
    )
    is_sound = form.is_bound and form.is_valid()
    load = float(form.cleaned_data["load_l"]) if is_sound else float(cart.tank_capacity_l)
    opening = figures.opening(form.cleaned_data["heads"] if is_sound else "")
    context: dict[str, object] = {
        "sheet": sheet, "ask": form, "form": form, "opening": opening, "load_l": load,
        "facts": spray_page.facts_of(sheet, figures), "caution": spray_page.CAUTION, "rows": [],
    }  # fmt: skip
    try:
        rows = spray_page.table_of(figures, opening, load_l=load)
    except ValueError as error:
        return context | {"refusal": str(error)}, 422
    asked = request.GET.get("gear"), request.GET.get("rpm")
    row = next((one for one in rows if (one.row.driver.gear, f"{one.row.driver.rpm:g}") == asked), rows[0])
    opened = spray_page.workings(figures, opening, row, load_l=load)
    found = {"rows": rows, "row": row, "workings": opened, "figures": figures}
    return context | found, 422 if form.is_bound and form.errors else 200


@require_safe
@for_roles(EVERYBODY)
def spray_sheet(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    sheet = _sheet(cart, request.GET.get("version", ""))
    context: dict[str, object] = {
        "page_title": f"Spraying: cart {cart.fleet_number}",
        "cart": cart,
        "may_work": staff_of(request).has_role(WORKSHOP),
        "may_test": staff_of(request).has_role(WALKERS),
    }
    if sheet is None:
        return render(request, "fleet/spray_sheet.html", context)
    found, status = _table(request, cart, sheet)
    if wants_csv(request) and status == 200:
        rows = spray_page.file_of(sheet, sheet.figures(), load_l=float(str(found["load_l"])))
        return csv_response(f"spraying-{cart.fleet_number}", spray_page.TABLE_HEAD, rows)
    context["versions"] = cart.spray_sheets.select_related("recorded_by").order_by("-version")[:VERSIONS]
    return render(request, "fleet/spray_sheet.html", context | found, status=status)


@require_safe
@for_roles(EVERYBODY)
def spray_print(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The driver's table to print, one choice of heads a page as the address asks."""
    cart = get_object_or_404(Cart, pk=cart_id)
    sheet = _sheet(cart, request.GET.get("version", ""))
    if sheet is None:
        raise Http404("No spray figures are on record of this cart.")
    found, status = _table(request, cart, sheet)
    context = {"page_title": f"Driver’s table: cart {cart.fleet_number}", "cart": cart, **found}
    return render(request, "fleet/spray_print.html", context, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def spray_record(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    last = _sheet(cart)
    form = SpraySheetForm(request.POST or None, initial=SpraySheetForm.as_typed(last) if last else {})
    if request.method == "POST" and form.is_valid():
        sheet = attempt(
            form, actions.record_spray_sheet, cart=cart, details=form.details(), by=staff_of(request), at=at
        )
        if sheet is not None:
            messages.success(
                request, f"Spray figures {sheet.version} of cart {cart.fleet_number} are on record."
            )
            return redirect("fleet:spray_sheet", cart.pk)
    return form_page(
        request, form, cart=cart, title="Spray figures", button=f"Record the spray figures of cart {cart.fleet_number}",
        lead="Time and measure them on this cart. The figures before these stay on record. How fast it fills and what the "
        "pump can’t draw are its tank’s, under “Road fill and weight”.",
        must=spray_page.STANDS_CLEAR,
        back=reverse("fleet:spray_sheet", args=[cart.pk]), back_label="spraying",
    )  # fmt: skip


@require_safe
@for_roles(EVERYBODY)
def evenness_list(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    tests = spray_page.tests_of(cart)
    if wants_csv(request):
        rows = spray_page.test_table(tests)
        return csv_response(f"evenness-{cart.fleet_number}", spray_page.TEST_HEAD, rows)
    page = Paginator(tests, PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": f"Evenness of the heads: cart {cart.fleet_number}",
        "cart": cart,
        "page": page,
        "tests": spray_page.test_rows(page.object_list),
        "may_test": staff_of(request).has_role(WALKERS) and cart.spray_sheets.exists(),
    }
    return render(request, "fleet/evenness_list.html", context)


@require_safe
@for_roles(EVERYBODY)
def evenness_trend(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The picture of the last tests. Drawn only where the browser has not the same one already."""
    from fleet import evenness_plot  # noqa: PLC0415 - for weight: no other page pays for the drawing library

    cart = get_object_or_404(Cart, pk=cart_id)
    rows = spray_page.test_rows(list(spray_page.tests_of(cart)[:PLOTTED]))
    if not rows:
        raise Http404("No test of the heads is on record of this cart.")
    points = [
        evenness_plot.EvennessPoint(
            yard_day(one.test.done_at), one.found.christiansen_pct, one.found.low_quarter_pct
        )
        for one in reversed(rows)
    ]
    etag = f'"{hashlib.sha256(repr(points).encode()).hexdigest()[:32]}"'
    kept = get_conditional_response(request, etag=etag)
    response = kept or HttpResponse(evenness_plot.draw(points), content_type="image/svg+xml")
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@require_safe
@for_roles(EVERYBODY)
def evenness_detail(request: HttpRequest, test_id: UUID) -> HttpResponse:
    tests = EvennessTest.objects.select_related(
        "cart", "sheet", "recorded_by", "signature__sent_by"
    ).prefetch_related("catches__head")
    test = get_object_or_404(tests, pk=test_id)
    if wants_csv(request):
        return csv_response(
            f"evenness-{test.cart.fleet_number}", spray_page.TEST_HEAD, spray_page.test_table([test])
        )
    context = {
        "page_title": f"Evenness of the heads: cart {test.cart.fleet_number}",
        "cart": test.cart,
        "test": test,
        "found": test.result(),
        "tolerance_pct": test.tolerance_pct,
        "signature": getattr(test, "signature", None),
        "later_figures": test.later_figures(),
        "defect": test.cart.defects.filter(source_kind=actions.SOURCE, source_id=test.pk).first(),
    }
    return render(request, "fleet/evenness_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(WALKERS)
def evenness_record(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """Values in, then the figures, then the signature. A value changed after the figures were shown shows them again."""
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    sheet = _sheet(cart)
    if sheet is None:
        messages.warning(request, "Record the cart’s spray figures first: the test is against them.")
        return redirect("fleet:spray_sheet", cart.pk)
    form = EvennessForm(request.POST or None, sheet=sheet, initial={"done_at": at})
    found = _figures_of(request, form, sheet)
    is_signing = found is not None and "sign" in request.POST
    is_shown = is_signing and form.cleaned_data["shown"] == form.mark()
    if is_shown and (test := _signed(request, form, sheet, at=at)) is not None:
        messages.success(request, f"The test of cart {cart.fleet_number} is signed.")
        return redirect("fleet:evenness_detail", test.pk)
    context = {
        "page_title": f"Test the spray heads: cart {cart.fleet_number}",
        "cart": cart,
        "sheet": sheet,
        "form": form,
        "found": found,
        "tolerance_pct": yard_policy().head_tolerance_pct,
        "mark": form.mark() if found is not None else "",
        "was_changed": is_signing and not is_shown,
        "person": staff_of(request),
        "must": spray_page.STANDS_CLEAR,
    }
    return render(request, "fleet/evenness_form.html", context, status=422 if form.errors else 200)


def _figures_of(request: HttpRequest, form: EvennessForm, sheet: SpraySheet) -> Evenness | None:
    """What the values come to, once they are sound."""
    if request.method != "POST" or not form.is_valid():
        return None
    return attempt(
        form, actions.judged, sheet, pressure_kpa=form.cleaned_data["pressure_kpa"], caught=form.caught(),
        tolerance_pct=yard_policy().head_tolerance_pct,
    )  # fmt: skip


def _signed(
    request: HttpRequest, form: EvennessForm, sheet: SpraySheet, *, at: datetime
) -> EvennessTest | None:
    typed = form.cleaned_data
    return attempt(
        form, actions.record_evenness, sheet=sheet, done_at=typed["done_at"], pressure_kpa=typed["pressure_kpa"],
        caught=form.caught(), words=typed["words"], by=staff_of(request), at=at,
    )  # fmt: skip
