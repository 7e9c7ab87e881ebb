"""The load tally: one tap a load through the customer's link or the operator's, and the same for the yard; counted day by day."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from hire import load_page
from hire.actions import loads as actions
from hire.actions.operator_links import open_operator_link
from hire.load_forms import DayForm, LoadForm, TapForm
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.loads import Load
from hire.models.operators import OperatorLink
from hire.rights import ON_SITE
from hire.views.asked import line_asked
from hire.views.links import through, through_a_link
from hire.views.operator_link import line_of
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import EVERYBODY
from people.yard import yard_day

PAGE = 50


def _put_down(
    form: TapForm, line: Line, teller: actions.Teller, *, at: datetime
) -> Load | None:  # fmt: skip
    """The load, or None with what is wrong on the form."""
    if not form.is_valid():
        return None
    try:
        return actions.record_load(line=line, teller=teller, at=at, **{"taken_at": at} | form.cleaned_data)
    except Refusal as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    return None


F = TypeVar("F", bound=TapForm)


def _form(
    kind: type[F], request: HttpRequest, line: Line, *, at: datetime, is_asked: bool = True, **initial: object
) -> F:
    """The form with what a load of this cart usually is; is_asked: what was sent is meant for it."""
    usual = load_page.usual(line, on=yard_day(at))
    said = {
        "load_id": uuid.uuid4(), "litres": usual.litres, "source": load_page.usual_water(line)
    } | initial  # fmt: skip
    form = kind((request.POST or None) if is_asked else None, initial=said)
    form.fields["litres"].help_text = usual.words
    return form


@dataclass(frozen=True)
class Door:
    """Through which door loads are tapped: whose they are, the tally's own address, and the page it goes back to."""

    line: Line
    teller: actions.Teller
    here: str
    back_url: str
    back_label: str
    undo_url: Callable[[uuid.UUID], str]


def _tapped(request: HttpRequest, door: Door) -> HttpResponse:
    at = timezone.now()
    form = _form(TapForm, request, door.line, at=at)
    if request.method == "POST" and _put_down(form, door.line, door.teller, at=at):
        return redirect(door.here)
    return _tally_page(request, door, form, at=at, status=422 if request.method == "POST" else 200)


def _tally_page(
    request: HttpRequest, door: Door, form: TapForm, *, at: datetime, status: int = 200, refusal: str = ""
) -> HttpResponse:  # fmt: skip
    line, today = door.line, door.line.agreement.day(at)
    found = list(load_page.loads_of(line, on=today))
    context = {
        "page_title": f"Loads of {line.cart.fleet_number}",
        "door": door,
        "line": line,
        "form": form,
        "refusal": refusal,
        "taps": load_page.taps(line),
        "tap_id": uuid.uuid4(),
        "is_spoilt": load_page.is_spoilt(line),
        "stood": load_page.stood_of(line, at=at),
        "today": load_page.tally(line, on=today),
        "days": load_page.by_day(line)[:14],
        "loads": [
            (one, door.undo_url(one.pk) if load_page.may_take_back(one, at=at) else "") for one in found
        ],
    }
    return render(request, "hire/link_loads.html", context, status=status)


def _take_back(request: HttpRequest, door: Door, load_id: uuid.UUID) -> HttpResponse:
    """Take back a load of this hire; another hire's is not there."""
    at = timezone.now()
    load = Load.objects.filter(pk=load_id, line=door.line).first()
    if load is None:
        raise Http404
    try:
        actions.undo_load(load=load, teller=door.teller, at=at)
    except Refusal as refusal:
        form = _form(TapForm, request, door.line, at=at, is_asked=False)
        return _tally_page(request, door, form, at=at, status=422, refusal=refusal.sentence)
    return redirect(door.here)


def _token(request: HttpRequest) -> str:
    return str(request.resolver_match.kwargs["token"]) if request.resolver_match else ""


def _customers(request: HttpRequest, link: CustomerLink) -> Door:
    token = _token(request)
    return Door(
        link.line, actions.Teller(link=link), reverse("hire:link_loads", args=[token]),
        reverse("hire:customer_page", args=[token]), "this hire",
        lambda load: reverse("hire:link_load_undo", args=[token, load]),
    )  # fmt: skip


def _operators(request: HttpRequest, link: OperatorLink, line_id: uuid.UUID) -> Door:
    token, line = _token(request), line_of(link, line_id)
    return Door(
        line, actions.Teller(operator_link=link), reverse("hire:operator_loads", args=[token, line.pk]),
        reverse("hire:operator_page", args=[token]), "your dockets",
        lambda load: reverse("hire:operator_load_undo", args=[token, line.pk, load]),
    )  # fmt: skip


# As for the pre-start: the page's no-referrer policy leaves no origin to compare, and the address itself is the secret.
@csrf_exempt
@through_a_link("GET", "POST", rights=ON_SITE)
def link_loads(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    return _tapped(request, _customers(request, link))


@csrf_exempt
@through_a_link("POST", rights=ON_SITE)
def link_load_undo(request: HttpRequest, link: CustomerLink, load_id: uuid.UUID) -> HttpResponse:
    return _take_back(request, _customers(request, link), load_id)


@csrf_exempt
@through(open_operator_link, "GET", "POST")
def operator_loads(request: HttpRequest, link: OperatorLink, line_id: uuid.UUID) -> HttpResponse:
    """The tally of a wet hire they go with, by the customer's rules."""
    return _tapped(request, _operators(request, link, line_id))


@csrf_exempt
@through(open_operator_link, "POST")
def operator_load_undo(
    request: HttpRequest, link: OperatorLink, line_id: uuid.UUID, load_id: uuid.UUID
) -> HttpResponse:
    return _take_back(request, _operators(request, link, line_id), load_id)


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def line_loads(request: HttpRequest, line_id: uuid.UUID) -> HttpResponse:
    """Every day of a hire with its loads and litres, and the loads of one day."""
    at, line = timezone.now(), line_asked(line_id)
    name = f"{line.agreement.number}-{line.cart.fleet_number}"
    if wants_csv(request, "loads"):
        return csv_response(
            f"loads-{name}", load_page.LOAD_HEAD, load_page.load_table(line, line.loads.for_list())
        )
    if wants_csv(request):
        return csv_response(f"loads-by-day-{name}", load_page.DAY_HEAD, load_page.day_table(line))
    form = _form(LoadForm, request, line, at=at, taken_at=at)
    teller = actions.Teller(by=staff_of(request))
    if request.method == "POST" and (load := _put_down(form, line, teller, at=at)):
        messages.success(request, f"{load} is down for {line.cart.fleet_number}.")
        return redirect(
            f"{reverse('hire:line_loads', args=[line.pk])}?day={line.agreement.day(load.taken_at):%Y-%m-%d}"
        )
    asked = DayForm(request.GET)
    day = (asked.cleaned_data["day"] if asked.is_valid() else None) or line.agreement.day(at)
    context = {
        "page_title": f"Loads of {line.cart.fleet_number}",
        "line": line,
        "form": form,
        "page": Paginator(load_page.by_day(line), PAGE).get_page(request.GET.get("page")),
        "day": day,
        "loads": load_page.loads_of(line, on=day),
        "may_record": line.handed_over_at is not None,
        "is_spoilt": load_page.is_spoilt(line),
    }
    return render(request, "hire/line_loads.html", context, status=422 if request.method == "POST" else 200)


@require_POST
@for_roles(EVERYBODY)
def load_undo(request: HttpRequest, load_id: uuid.UUID) -> HttpResponse:
    load = get_object_or_404(Load, pk=load_id)
    actions.undo_load(load=load, teller=actions.Teller(by=staff_of(request)), at=timezone.now())
    messages.success(request, f"{load} is taken back; both stay on record.")
    return redirect("hire:line_loads", load.line_id)
