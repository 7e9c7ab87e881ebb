"""Services that come round: the plans, one service of one cart, recording it as done, striking it out."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models.carts import Cart
from fleet.views.asking import attempt, form_page, posted, press
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS, WORKSHOP
from people.yard import yard_day
from servicing import service_actions as actions
from servicing import service_pages as pages
from servicing import tables
from servicing.models.plans import ServiceDone, ServicePlan
from servicing.service_book import plans_in_force, plans_of
from servicing.service_forms import PlanForm, RecordServiceForm, StrikeForm, whose_words


@require_safe
@for_roles(WORKSHOP)
def plan_list(request: HttpRequest) -> HttpResponse:
    plans = ServicePlan.objects.filter(ended_on=None).select_related("cart").prefetch_related("includes")
    counted = plans.annotate(
        carts=Count("dues"), late=Count("dues", filter=Q(dues__state__in=["due", "overdue"]))
    )
    if wants_csv(request):
        return csv_response("services", pages.PLAN_HEAD, pages.plan_table(counted))
    context = {
        "page_title": "Services",
        "rows": [(plan, whose_words(plan), pages.interval_words(plan)) for plan in counted],
        "may_plan": staff_of(request).has_role(MANAGERS),
    }
    return render(request, "servicing/plan_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def plan_add(request: HttpRequest) -> HttpResponse:
    form = PlanForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        includes = list(form.cleaned_data["includes"])
        plan = attempt(
            form,
            actions.add_plan,
            details=form.details(),
            includes=includes,
            by=staff_of(request),
            at=timezone.now(),
        )
        if plan:
            messages.success(
                request,
                f"{plan.name} comes round for {whose_words(plan)}; its days are reckoned in a moment.",
            )
            return redirect("servicing:plan_list")
    return form_page(
        request, form, title="A service that comes round", button="Add it", back=reverse("servicing:plan_list"),
        back_label="the services",
        must="The maker’s handbook decides the interval. The yard may ask for it sooner, never later.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def plan_change(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    plan = get_object_or_404(ServicePlan.objects.select_related("cart").filter(ended_on=None), pk=plan_id)
    form = PlanForm(request.POST or None, plan=plan)
    if request.method == "POST" and form.is_valid():
        includes = list(form.cleaned_data["includes"])
        changed = attempt(
            form, actions.change_plan, plan=plan, details=form.details(), includes=includes,
            by=staff_of(request), at=timezone.now(),
        )  # fmt: skip
        if changed:
            messages.success(request, f"{changed.name} is changed; its days are reckoned in a moment.")
            return redirect("servicing:plan_list")
    return form_page(
        request, form, title=plan.name, button="Keep the change", back=reverse("servicing:plan_list"),
        back_label="the services", template="servicing/plan_form.html", plan=plan,
    )  # fmt: skip


@require_POST
@for_roles(MANAGERS)
def plan_end(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    plan = get_object_or_404(ServicePlan, pk=plan_id)
    press(request, actions.end_plan, plan=plan, done=f"{plan.name} comes round no more.", at=timezone.now())
    return redirect("servicing:plan_list")


@require_safe
@for_roles(EVERYBODY)
def service_due_detail(request: HttpRequest, due_id: UUID) -> HttpResponse:
    person, context = staff_of(request), pages.due_page(due_id, at=timezone.now())
    if wants_csv(request):
        return csv_response("services-done", tables.DONE_HEAD, tables.done_table(context["all_done"]))
    may = {"may_record": person.has_role(WORKSHOP), "may_strike": person.has_role(MANAGERS)}
    return render(request, "servicing/service_due_detail.html", context | may)


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def service_record(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    plans = plans_of(cart, plans_in_force())
    form = RecordServiceForm(
        request.POST or None, plans=plans, initial={"done_at": at, "plan": request.GET.get("plan", "")}
    )
    if done := posted(request, form, actions.record_service, cart=cart, at=at):
        messages.success(request, f"The {done.plan.name} of cart {cart.fleet_number} is on record.")
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Record a service", button=f"Record it on cart {cart.fleet_number}",
        lead="" if plans else "No service comes round for this cart yet: a manager adds one under Services.",
        note="What it includes counts anew from then too. The meters go on record with it.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def service_strike(request: HttpRequest, done_id: UUID) -> HttpResponse:
    done = get_object_or_404(ServiceDone.objects.select_related("cart", "plan"), pk=done_id)
    form = StrikeForm(request.POST or None)
    if posted(request, form, actions.strike_service, done=done, at=timezone.now()):
        messages.success(
            request,
            f"Struck out: {done.plan.name} of {yard_day(done.done_at):%-d %b %Y}. It stays on record.",
        )
        return redirect("fleet:cart_detail", done.cart_id)
    return form_page(
        request, form, cart=done.cart, title=f"Strike out the {done.plan.name}", button="Strike it out",
        lead=f"Recorded as done on {yard_day(done.done_at):%-d %b %Y} by {done.by_words}.",
        note="It stays on record and counts for nothing. What it included is struck out with it.",
    )  # fmt: skip
