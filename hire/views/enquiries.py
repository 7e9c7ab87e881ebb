"""Answering a caller: which carts suit and are free, and a cart pencilled while the caller thinks."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models.carts import Cart
from fleet.yards import yards_for
from hire import availability, tables
from hire.actions import pencils
from hire.enquiry_forms import WET_ALONE, EnquiryForm, PencilForm
from hire.forms import YardMoment
from hire.models.job_plans import JobPlan
from hire.models.pencils import Pencil
from hire.needs_forms import carried
from hire.site_answer import for_site, set_for
from hire.wet_answer import with_operators
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import at_local, yard_day, yard_policy

STARTS = time(6)
# What goes on from the question to the promise.
CARRIED = (
    "litres",
    "road_litres",
    "gear",
    "drive_axles",
    "starts_at",
    "ends_at",
    "leaves_by",
    "works_on",
    "water",
    "goes",
    "shift",
    "place_of_work",
    "customer",
    "plan",
)


def _usual(at: datetime) -> dict[str, object]:
    """A week from the next working morning."""
    policy, on = yard_policy(), yard_day(at) + timedelta(days=1)
    while policy.is_closed(on):
        on += timedelta(days=1)
    starts_at = at_local(on, STARTS)
    return {
        "starts_at": starts_at, "ends_at": starts_at + timedelta(days=7), "leaves_by": "road", "works_on": "road",
        "drive_axles": "0", "water": "any",
    }  # fmt: skip


def _said(question: QueryDict) -> QueryDict:
    """The question without what is asked of wet hire alone, where it is of none: the form keeps that for who changes their mind."""
    said = question.copy()
    for name in WET_ALONE if said.get("goes") != "wet" else ():
        said.pop(name, None)
    return said


@require_safe
@for_roles(DESK)
def enquiry(request: HttpRequest) -> HttpResponse:
    """What a caller asks on one side, the yard's answer on the other; the question stays in the address."""
    at, asked = timezone.now(), "starts_at" in request.GET
    form = EnquiryForm(request.GET if asked else None, initial=_usual(at))
    # The file has every cart; the screen the first, until all are asked for.
    whole = wants_csv(request) or "whole" in request.GET
    yards, found, site, said = yards_for(request), None, None, _said(request.GET)
    if asked and form.is_valid():
        found = availability.answer(form.enquiry(), at=at, whole=whole, yards=yards)
        who = form.cleaned_data["customer"], form.cleaned_data["place_of_work"]
        site = set_for(*who)
        found = for_site(found, site, form.enquiry()) if site else found
        found = with_operators(found, form.enquiry(), *who, at=at) if form.enquiry().is_wet else found
    if found and wants_csv(request):
        return csv_response("carts-for-a-caller", tables.OFFER_HEAD, tables.offer_table(found))
    context = {
        "page_title": "Find a cart for a caller",
        "form": form,
        "yards": yards,
        "found": found,
        "site": site,
        "plan": JobPlan.objects.named(request.GET.get("plan", "")),
        "said": said.urlencode(),
        "carried": urlencode({name: said.getlist(name) for name in CARRIED}, doseq=True),
    }
    return render(request, "hire/enquiry.html", context, status=422 if asked and form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def pencil_add(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    at, cart = timezone.now(), get_object_or_404(Cart, pk=cart_id)
    usual = _usual(at) | carried(request.GET, PencilForm.base_fields)
    form = PencilForm(
        request.POST or None, initial=usual | {"expires_at": _keeps_until(usual["starts_at"], at=at)}
    )
    if request.method == "POST" and form.is_valid():
        try:
            plan = JobPlan.objects.named(request.GET.get("plan", ""))
            pencil = pencils.pencil_cart(cart=cart, **form.kept(), plan=plan, by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{cart.fleet_number} is pencilled for {pencil.caller_words}.")
            return redirect("hire:line_list")
    context = {
        "page_title": f"Pencil {cart.fleet_number} for a caller", "form": form, "back_label": "the carts for the caller",
        "back_url": f"{reverse('hire:enquiry')}?{request.GET.urlencode()}",
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


def _keeps_until(starts_at: object, *, at: datetime) -> datetime:
    """A day from now, or until the cart would leave, whichever is sooner."""
    until = at + yard_policy().pencil_for
    leaves = YardMoment().to_python(starts_at) if isinstance(starts_at, str) else starts_at
    return min(until, leaves) if isinstance(leaves, datetime) and leaves > at else until


@require_POST
@for_roles(DESK)
def pencil_let_go(request: HttpRequest, pencil_id: UUID) -> HttpResponse:
    pencil = get_object_or_404(Pencil, pk=pencil_id)
    try:
        gone = pencils.let_go(pencil=pencil, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{gone.cart.fleet_number} is no longer kept for {gone.caller_words}.")
    return redirect("hire:line_list")
