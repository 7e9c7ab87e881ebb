"""One cart hired in: what it costs, the call to its owner, and the cart given back."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from hire import owner_tables
from hire.actions import hired_in as acts
from hire.charge_stop import cut_off_words
from hire.forms import WhyForm
from hire.hired_in import cost_of
from hire.models.owners import HireIn
from hire.owner_forms import HireInForm, HireInTermsForm, OwnerCallForm, ReturnForm
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


def _one(hire_in_id: UUID) -> HireIn:
    return get_object_or_404(HireIn.objects.for_list(), pk=hire_in_id)


@require_safe
@for_roles(DESK)
def hire_in_detail(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, hire_in = timezone.now(), _one(hire_in_id)
    found = cost_of(hire_in, at=at)
    name = f"hired-in-{hire_in.cart.fleet_number}"
    if wants_csv(request, "shares"):
        return csv_response(f"{name}-shares", owner_tables.PART_HEAD, owner_tables.part_table(found))
    if wants_csv(request):
        return csv_response(name, owner_tables.COST_HEAD, owner_tables.cost_table(found))
    context = {
        "page_title": f"{hire_in.cart.fleet_number}, hired in from {hire_in.owner.name}",
        "hire_in": hire_in,
        "found": found,
        "cut_off": cut_off_words(hire_in.cut_off),
        "is_open": hire_in.struck_at is None and hire_in.returned_at is None,
    }
    return render(request, "hire/hire_in_detail.html", context)


def _ask(
    request: HttpRequest,
    form: forms.Form,
    act: Callable[[], tuple[HireIn, str]],
    title: str,
    *,
    of: HireIn | None = None,
) -> HttpResponse:
    """One question: done, to the page of the cart hired in; refused, the form with what was typed."""
    if request.method == "POST" and form.is_valid():
        try:
            hire_in, sentence = act()
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, sentence)
            return redirect("hire:hire_in_detail", hire_in.pk)
    back = reverse("hire:hire_in_detail", args=[of.pk]) if of else reverse("hire:hire_in_list")
    label = f"{of.cart.fleet_number}, hired in" if of else "carts hired in"
    context = {"page_title": title, "form": form, "back_url": back, "back_label": label}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def hire_in_add(request: HttpRequest) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    usual = {"starts_at": at} | {
        name: request.GET[name] for name in ("owner", "cart") if request.GET.get(name)
    }
    form = HireInForm(request.POST or None, initial=usual)

    def act() -> tuple[HireIn, str]:
        typed = form.cleaned_data
        made = acts.hire_in_cart(
            owner=typed["owner"], cart=typed["cart"], starts_at=typed["starts_at"], ends_at=typed["ends_at"],
            terms=form.terms(), by=by, at=at,
        )  # fmt: skip
        return made, f"{made.cart.fleet_number} is hired in from {made.owner.name}."

    return _ask(request, form, act, "Hire a cart in")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def hire_in_change(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, by, hire_in = timezone.now(), staff_of(request), _one(hire_in_id)
    form = HireInTermsForm.of(hire_in, request.POST or None)

    def act() -> tuple[HireIn, str]:
        starts_at, ends_at = form.cleaned_data["starts_at"], form.cleaned_data["ends_at"]
        done = acts.change_hire_in(
            hire_in=hire_in, starts_at=starts_at, ends_at=ends_at, terms=form.terms(), by=by, at=at
        )
        return done, "Saved. The whole hire from the owner is reckoned by it."

    return _ask(request, form, act, f"Change what was agreed for {hire_in.cart.fleet_number}", of=hire_in)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def owner_call(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, by, hire_in = timezone.now(), staff_of(request), _one(hire_in_id)
    form = OwnerCallForm(request.POST or None, initial={"called_at": at})

    def act() -> tuple[HireIn, str]:
        done = acts.call_off_owner(hire_in=hire_in, **form.cleaned_data, by=by, at=at)
        return done, f"{done.owner.name} is called off. {cut_off_words(done.cut_off)}"

    return _ask(
        request, form, act, f"Call {hire_in.cart.fleet_number} off with {hire_in.owner.name}", of=hire_in
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def owner_call_cancel(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, by, hire_in = timezone.now(), staff_of(request), _one(hire_in_id)
    form = WhyForm(request.POST or None)

    def act() -> tuple[HireIn, str]:
        done = acts.cancel_owner_call(hire_in=hire_in, why=form.cleaned_data["why"], by=by, at=at)
        return done, f"The clock of {done.owner.name} runs on."

    return _ask(request, form, act, f"Cancel the call to {hire_in.owner.name}", of=hire_in)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def hire_in_return(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, by, hire_in = timezone.now(), staff_of(request), _one(hire_in_id)
    form = ReturnForm(request.POST or None, initial={"returned_at": at})

    def act() -> tuple[HireIn, str]:
        done = acts.return_to_owner(hire_in=hire_in, **form.cleaned_data, by=by, at=at)
        return done, (
            f"{done.cart.fleet_number} is back with {done.owner.name}. If it will not come again, say when it left the fleet."
        )

    return _ask(
        request, form, act, f"Record {hire_in.cart.fleet_number} back with {hire_in.owner.name}", of=hire_in
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def hire_in_strike(request: HttpRequest, hire_in_id: UUID) -> HttpResponse:
    at, by, hire_in = timezone.now(), staff_of(request), _one(hire_in_id)
    form = WhyForm(request.POST or None)

    def act() -> tuple[HireIn, str]:
        return acts.strike_hire_in(hire_in=hire_in, why=form.cleaned_data["why"], by=by, at=at), "Struck out."

    return _ask(
        request,
        form,
        act,
        f"Strike out the hire of {hire_in.cart.fleet_number} from {hire_in.owner.name}",
        of=hire_in,
    )
