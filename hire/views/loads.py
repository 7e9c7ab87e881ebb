"""The load tally: one tap a load through the customer's link, and the same for the yard; counted day by day."""

from __future__ import annotations

import uuid
from datetime import datetime

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
from hire.load_forms import DayForm, LoadForm, TapForm
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.loads import Load
from hire.rights import ON_SITE
from hire.views.links import through_a_link
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


def _initial(line: Line) -> dict[str, object]:
    return {
        "load_id": uuid.uuid4(), "litres": load_page.usual_litres(line), "source": load_page.usual_water(line)
    }  # fmt: skip


def _token(request: HttpRequest) -> str:
    return str(request.resolver_match.kwargs["token"]) if request.resolver_match else ""


# As for the pre-start: the page's no-referrer policy leaves no origin to compare, and the address itself is the secret.
@csrf_exempt
@through_a_link("GET", "POST", rights=ON_SITE)
def link_loads(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    at, line = timezone.now(), link.line
    form = TapForm(request.POST or None, initial=_initial(line))
    here = reverse("hire:link_loads", args=[_token(request)])
    if request.method == "POST" and _put_down(form, line, actions.Teller(link=link), at=at):
        return redirect(here)
    return _link_page(request, link, form, at=at, status=422 if request.method == "POST" else 200)


def _link_page(
    request: HttpRequest, link: CustomerLink, form: TapForm, *, at: datetime, status: int = 200, refusal: str = ""
) -> HttpResponse:  # fmt: skip
    line, today = link.line, yard_day(at)
    found = list(load_page.loads_of(line, on=today))
    context = {
        "page_title": f"Loads of {line.cart.fleet_number}",
        "token": _token(request),
        "line": line,
        "form": form,
        "refusal": refusal,
        "taps": load_page.taps(line),
        "tap_id": uuid.uuid4(),
        "is_spoilt": load_page.is_spoilt(line),
        "stood": load_page.stood_of(line, at=at),
        "today": load_page.tally(line, on=today),
        "days": load_page.by_day(line)[:14],
        "loads": [(one, load_page.may_take_back(one, at=at)) for one in found],
    }
    return render(request, "hire/link_loads.html", context, status=status)


@csrf_exempt
@through_a_link("POST", rights=ON_SITE)
def link_load_undo(request: HttpRequest, link: CustomerLink, load_id: uuid.UUID) -> HttpResponse:
    """Take back a load of this hire, also of the cart that was swapped on it; another hire's is not there."""
    at = timezone.now()
    load = Load.objects.filter(pk=load_id, line=link.line).first()
    if load is None:
        raise Http404
    try:
        actions.undo_load(load=load, teller=actions.Teller(link=link), at=at)
    except Refusal as refusal:
        form = TapForm(initial=_initial(link.line))
        return _link_page(request, link, form, at=at, status=422, refusal=refusal.sentence)
    return redirect("hire:link_loads", _token(request))


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def line_loads(request: HttpRequest, line_id: uuid.UUID) -> HttpResponse:
    """Every day of a hire with its loads and litres, and the loads of one day."""
    at, line = timezone.now(), get_object_or_404(Line.objects.for_list(), pk=line_id)
    name = f"{line.agreement.number}-{line.cart.fleet_number}"
    if wants_csv(request, "loads"):
        return csv_response(f"loads-{name}", load_page.LOAD_HEAD, load_page.load_table(line.loads.for_list()))
    if wants_csv(request):
        return csv_response(f"loads-by-day-{name}", load_page.DAY_HEAD, load_page.day_table(line))
    form = LoadForm(request.POST or None, initial=_initial(line) | {"taken_at": at})
    teller = actions.Teller(by=staff_of(request))
    if request.method == "POST" and (load := _put_down(form, line, teller, at=at)):
        messages.success(request, f"{load} is down for {line.cart.fleet_number}.")
        return redirect(
            f"{reverse('hire:line_loads', args=[line.pk])}?day={yard_day(load.taken_at):%Y-%m-%d}"
        )
    asked = DayForm(request.GET)
    day = (asked.cleaned_data["day"] if asked.is_valid() else None) or yard_day(at)
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
