"""Tyres and wheel nuts on screen: one tyre, all of them by their day, a tyre changed, a wheel off and on, nuts checked again."""

from __future__ import annotations

import hashlib
from datetime import datetime, time
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions.wheels import TyreDetails
from fleet.models.carts import Cart
from fleet.models.wheels import TyreFitting
from fleet.needs import next_need
from fleet.views.asking import attempt, form_page, posted
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, WORKSHOP
from people.yard import at_local, yard_day, yard_policy
from servicing import retorque_pages, tables, tyre_pages, wheel_actions
from servicing.models.wheels import Retorque
from servicing.tyre_forms import (
    ChangeTyreForm,
    FirstNutsForm,
    NutsForm,
    RefitForm,
    SecondNutsForm,
    TyreFilter,
)

PAGE = 50
NUTS = "Torque the nuts by the wheel maker’s figures, in the handbook’s order. The cart waits for the check after 30 minutes."


@require_safe
@for_roles(EVERYBODY)
def tyre_fitting_detail(request: HttpRequest, fitting_id: UUID) -> HttpResponse:
    context = tyre_pages.tyre_page(fitting_id, at=timezone.now())
    if wants_csv(request):
        depths = context["fitting"].tread_readings.order_by("-read_at")
        return csv_response("tyre-depths", tables.DEPTH_HEAD, tables.depth_table(depths))
    context["may_service"] = staff_of(request).has_role(WORKSHOP)
    return render(request, "servicing/tyre_fitting_detail.html", context)


@require_safe
@for_roles(EVERYBODY)
def tyre_wear(request: HttpRequest, fitting_id: UUID) -> HttpResponse:
    """The picture of a tyre's wear. Drawn only where the browser has not the same one already."""
    from servicing import tyre_plot, tyre_readings  # noqa: PLC0415 - for weight: no other page pays for the drawing library

    picture = tyre_readings.picture_of(fitting_id)
    if picture is None:
        raise Http404("This tyre has no depth read at a known km.")
    etag = f'"{hashlib.sha256(repr(picture).encode()).hexdigest()[:32]}"'
    kept = get_conditional_response(request, etag=etag)
    response = kept or HttpResponse(tyre_plot.draw(picture), content_type="image/svg+xml")
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


@require_safe
@for_roles(WORKSHOP)
def tyre_list(request: HttpRequest) -> HttpResponse:
    """Every tyre on a cart, by the day it is to be changed out."""
    today, narrow = yard_day(timezone.now()), TyreFilter(request.GET)
    found = narrow.narrow(tyre_pages.fitted_tyres(), on=today)
    if wants_csv(request):
        return csv_response("tyres", tyre_pages.TYRE_HEAD, tyre_pages.tyre_table(found))
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": "Tyres",
        "filters": narrow,
        "page": page,
        "rows": tyre_pages.tyre_rows(page.object_list, on=today),
        "is_narrowed": any(narrow.chosen(name) for name in narrow.fields),
    }
    return render(request, "servicing/tyre_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def tyre_change(request: HttpRequest, fitting_id: UUID) -> HttpResponse:
    """One tyre off and another on in one act."""
    fittings = TyreFitting.objects.select_related("tyre", "wheel_position__cart")
    fitting, at = get_object_or_404(fittings, pk=fitting_id), timezone.now()
    position, old = fitting.wheel_position, fitting.tyre
    form = ChangeTyreForm(request.POST or None, initial={"changed_at": at})
    if request.method == "POST" and form.is_valid():
        typed = dict(form.cleaned_data)
        act = {name: typed.pop(name) for name in ("changed_at", "depth_mm", "words")}
        new = attempt(
            form, wheel_actions.change_tyre, fitting=fitting, details=TyreDetails(**typed), by=staff_of(request), at=at, **act
        )  # fmt: skip
        if new is not None:
            messages.success(
                request, f"Tyre {new.tyre.serial} is at {position.words} of cart {position.cart.fleet_number}; {old.serial} is off."
            )  # fmt: skip
            if said := tyre_pages.pair_said(new):
                messages.warning(request, said)
            return redirect("servicing:retorque_detail", retorque_pages.newest_of(position).pk)
    return form_page(
        request, form, cart=position.cart, title=f"Change the tyre at {position.words}", must=NUTS,
        lead=f"Tyre {old.serial} comes off in the same act.", button=f"Record the change on cart {position.cart.fleet_number}",
        back=reverse("servicing:tyre_fitting_detail", args=[fitting.pk]), back_label=f"tyre {old.serial}",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def wheel_refit(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """A wheel off and on again with its tyre."""
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    initial = {"refitted_at": at, "position_code": request.GET.get("position")}
    form = RefitForm(request.POST or None, positions=list(cart.wheel_positions.all()), initial=initial)
    task = posted(request, form, wheel_actions.wheel_refitted, cart=cart, at=at)
    if task is not None:
        messages.success(
            request, f"The nuts at {task.hub_words} of cart {cart.fleet_number} are to be checked again."
        )
        return redirect("servicing:retorque_detail", task.pk)
    return form_page(
        request, form, cart=cart, title="A wheel was off and on", button=f"Record it on cart {cart.fleet_number}", must=NUTS,
        lead="For a brake job or a repair, with the same tyre. Another tyre is a change of tyre.",
    )  # fmt: skip


@require_safe
@for_roles(WORKSHOP)
def retorque_list(request: HttpRequest) -> HttpResponse:
    """Hubs whose nuts are to be checked again."""
    at = timezone.now()
    found = retorque_pages.outstanding()
    if wants_csv(request):
        return csv_response("wheel-nuts", retorque_pages.HEAD, retorque_pages.table(found, at=at))
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": "Wheel nuts to check again",
        "page": page,
        "rows": retorque_pages.rows(page.object_list, at=at),
    }
    return render(request, "servicing/retorque_list.html", context)


def _form_for(task: Retorque, *, at: datetime, data: object = None) -> NutsForm | None:
    """The form of the check that is next; None: there is none."""
    if not task.is_open:
        return None
    if task.first_at is None:
        need = next_need([task.cart], at=at).get(task.cart_id)
        starts = max(need.window.start, at) if need else at
        end = at_local(yard_day(starts), yard_policy().second_shift_at)
        ends = end if end > at else at_local(yard_day(starts), time.max.replace(microsecond=0))
        return FirstNutsForm(data, initial={"done_at": at, "shift_ends_at": ends})  # type: ignore[arg-type]
    # Nothing of the first check is typed in beforehand: a figure that stands there already is read by nobody.
    return SecondNutsForm(data, initial={"done_at": at})  # type: ignore[arg-type]


def _task(task_id: UUID) -> Retorque:
    return get_object_or_404(retorque_pages.all_loaded(), pk=task_id)


@require_safe
@for_roles(EVERYBODY)
def retorque_detail(request: HttpRequest, task_id: UUID) -> HttpResponse:
    task, at = _task(task_id), timezone.now()
    form = _form_for(task, at=at) if staff_of(request).has_role(WORKSHOP) else None
    return render(request, "servicing/retorque_detail.html", retorque_pages.task_page(task, form=form, at=at))


@require_POST
@for_roles(WORKSHOP)
def retorque_check(request: HttpRequest, task_id: UUID) -> HttpResponse:
    """The check that is next, as typed; refused, the page as it stands with all that was typed."""
    task, at = _task(task_id), timezone.now()
    form = _form_for(task, at=at, data=request.POST)
    if form is None:
        messages.error(request, "Both checks are done, or the wheel was off again since.")
        return redirect("servicing:retorque_detail", task.pk)
    act = wheel_actions.check_second if task.first_at else wheel_actions.check_first
    if posted(request, form, act, task=task, at=at) is not None:
        messages.success(
            request, f"Recorded: wheel nuts at {task.hub_words} of cart {task.cart.fleet_number}."
        )
        return redirect("servicing:retorque_detail", task.pk)
    context = retorque_pages.task_page(task, form=form, at=at)
    return render(request, "servicing/retorque_detail.html", context, status=422)
