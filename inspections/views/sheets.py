"""The builder: what is asked of a cart, how many looks and minutes each check takes, and the yard's own changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.lap.stations import STATIONS
from fleet.models.carts import Cart
from inspections import editions
from inspections.cart_sheets import sheet_for
from inspections.check import Check
from inspections.forms import CheckForm, PublishForm, initial_of, key_from
from inspections.models import YardCheck
from inspections.vocabulary import CEILINGS, GRADES, PURPOSES
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import MANAGERS
from people.yard import yard_day


@dataclass(frozen=True)
class Load:
    """How heavy one purpose's sheet is for a cart."""

    label: str
    looks: int
    values: int
    minutes: int
    ceiling: int
    over: int


def _loads(cart: Cart, checks: Sequence[Check]) -> list[Load]:
    loads = []
    for purpose in PURPOSES:
        sheet = sheet_for(cart, purpose=purpose.key, checks=checks)
        loads.append(
            Load(
                purpose.label,
                sheet.looks,
                sheet.values,
                sheet.minutes,
                CEILINGS[purpose.key],
                sheet.over_ceiling,
            )
        )
    return loads


LOAD_HEAD = ("Cart", "Sheet", "Looks", "Values", "Minutes", "Yard’s ceiling", "Over")
CHECK_HEAD = (
    "Station", "Check", "Look for", "How good looks", "If not", "Usual grade", "Asked on", "Answer", "Minutes", "Rests on", "Key",
)  # fmt: skip


def _load_table(cart: Cart, checks: Sequence[Check]) -> Iterator[tuple[object, ...]]:
    for one in _loads(cart, checks):
        yield cart.fleet_number, one.label, one.looks, one.values, one.minutes, one.ceiling, one.over


def _check_table(checks: Sequence[Check]) -> Iterator[tuple[object, ...]]:
    """The checks in the order of the lap, as the next issue will have them."""
    grades, purposes = {one.key: one.label for one in GRADES}, {one.key: one.label for one in PURPOSES}
    for place in STATIONS:
        for one in (check for check in checks if check.station == place.key):
            yield (
                place.label, one.title, one.look_for, one.sound, one.if_not, grades[one.grade],
                ", ".join(purposes[key] for key in one.asked), one.answer, one.minutes, one.basis, one.key,
            )  # fmt: skip


@require_safe
@for_roles(MANAGERS)
def sheet_list(request: HttpRequest) -> HttpResponse:
    carts = Cart.objects.in_fleet(on=yard_day(timezone.now())).for_sheets()
    wanted = request.GET.get("cart", "").replace("\x00", "")
    cart = carts.filter(fleet_number__iexact=wanted).first() if wanted else carts.first()
    checks, changes = editions.checks_with_changes(), YardCheck.objects.select_related("changed_by")
    if wants_csv(request, "looks") and cart:
        return csv_response("sheets-of-a-cart", LOAD_HEAD, _load_table(cart, checks))
    if wants_csv(request, "checks"):
        return csv_response("checks", CHECK_HEAD, _check_table(checks))
    context = {
        "page_title": "Check sheets",
        "edition": editions.newest_edition(),
        "shown_cart": cart,
        "carts": carts,
        "loads": _loads(cart, checks) if cart else [],
        "stations": [
            (one.label, [check for check in checks if check.station == one.key]) for one in STATIONS
        ],
        "changes": changes,
        "form": PublishForm(),
    }
    return render(request, "inspections/sheet_list.html", context)


def _find(key: str) -> Check:
    check = next((check for check in editions.checks_with_changes() if check.key == key), None)
    if check is None:
        raise Http404
    return check


def _save(request: HttpRequest, form: CheckForm, key: str) -> bool:
    try:
        editions.change_check(
            key=key, body=form.body(key), is_retired=False, by=staff_of(request), at=timezone.now()
        )
    except Refusal as refusal:
        form.add_error(None, refusal.sentence)
        return False
    messages.success(request, "Kept for the next issue. Walks go on with the present one until you publish.")
    return True


def _page(request: HttpRequest, form: CheckForm, title: str) -> HttpResponse:
    context = {"page_title": title, "form": form}
    return render(request, "inspections/check_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def check_add(request: HttpRequest) -> HttpResponse:
    form = CheckForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        taken = frozenset(check.key for check in editions.checks_with_changes())
        if _save(request, form, key_from(form.cleaned_data["title"], taken)):
            return redirect("inspections:sheet_list")
    return _page(request, form, "Add a check")


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def check_change(request: HttpRequest, key: str) -> HttpResponse:
    check = _find(key)
    form = CheckForm(request.POST or None, initial=initial_of(check))
    if request.method == "POST" and form.is_valid() and _save(request, form, check.key):
        return redirect("inspections:sheet_list")
    return _page(request, form, f"Reword “{check.title}”")


@require_POST
@for_roles(MANAGERS)
def check_retire(request: HttpRequest, key: str) -> HttpResponse:
    check = _find(key)
    try:
        editions.change_check(
            key=check.key, body=None, is_retired=True, by=staff_of(request), at=timezone.now()
        )
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"“{check.title}” leaves the sheets with the next issue.")
    return redirect("inspections:sheet_list")


@require_POST
@for_roles(MANAGERS)
def check_take_back(request: HttpRequest, key: str) -> HttpResponse:
    editions.drop_change(key=key, by=staff_of(request))
    messages.success(request, "Taken back: the next issue asks what the present one asks there.")
    return redirect("inspections:sheet_list")


@require_POST
@for_roles(MANAGERS)
def publish(request: HttpRequest) -> HttpResponse:
    form = PublishForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Say in a few words why there is a new issue: every signed check names it.")
        return redirect("inspections:sheet_list")
    try:
        edition = editions.publish_edition(
            why=form.cleaned_data["why"], by=staff_of(request), at=timezone.now()
        )
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"Issue {edition.number} is published. Walks begun on the old one finish on it."
        )
    return redirect("inspections:sheet_list")
