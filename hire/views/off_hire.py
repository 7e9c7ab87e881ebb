"""Off-hire at the desk: the call, the pick-up that failed, the cart gone from site, and the call made by mistake."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions import off_hire as acts
from hire.actions.not_back import not_back as undo_return
from hire.forms import FailedPickUpForm, LeftSiteForm, OffHireForm, WhyForm
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.pick_up import fetched_by
from hire.risk import risk_agreed
from hire.screens import charge_words
from hire.views.asked import line_asked, of_a_hire
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import AT_THE_GATE, DESK


def pick_up_of(typed: dict[str, Any]) -> acts.PickUp:
    return acts.PickUp(typed["pick_up_words"], typed["keys_words"], typed["risk_words"], typed["back_by"])


def answer(
    request: HttpRequest,
    line: Line,
    form: django_forms.Form,
    act: Callable[[], str],
    title: str,
    *,
    button: str = "",
    says: Sequence[str] = (),
) -> HttpResponse:
    """One question asked of a hire: done, back to the hire with a sentence; refused, the form with what was typed. says: what to
    read before it is answered."""
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, act())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            return redirect("hire:line_detail", line.pk)
    context = {"page_title": title, "form": form, "line": line, "button": button, "says": says}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def off_hire_call(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    contact = line.agreement.customer.contact_name
    initial: dict[str, object] = {
        "called_at": at,
        "called_by_words": contact,
        "pick_up_words": line.agreement.place_of_work,
    }
    initial |= {"risk_words": risk_agreed(line), "back_by": fetched_by(at)}
    form = OffHireForm(request.POST or None, initial=initial, counts_closed=acts.counts_closed(line))

    def act() -> str:
        typed = form.cleaned_data
        call = acts.call_off(
            line=line,
            called_at=typed["called_at"],
            called_by_words=typed["called_by_words"],
            pick_up=pick_up_of(typed),
            by=by,
            at=at,
        )
        return f"Give them this number: {call.number}. {charge_words(call, at=at)}"

    return answer(request, line, form, act, f"Off-hire {line.cart.fleet_number}")


def _of(off_hire_id: UUID) -> OffHire:
    return of_a_hire(get_object_or_404(OffHire.objects.for_list(), pk=off_hire_id))


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def off_hire_cancel(request: HttpRequest, off_hire_id: UUID) -> HttpResponse:
    call, form = _of(off_hire_id), WhyForm(request.POST or None)

    def act() -> str:
        why = form.cleaned_data["why"]
        acts.cancel_off_hire(off_hire=call, why=why, by=staff_of(request), at=timezone.now())
        return f"{call.number} is cancelled; {call.line.cart.fleet_number} stays on hire and is charged."

    return answer(request, call.line, form, act, f"Cancel off-hire {call.number}")


def _now(field: str) -> dict[str, datetime]:
    return {field: timezone.now()}


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def off_hire_left(request: HttpRequest, off_hire_id: UUID) -> HttpResponse:
    call, form = _of(off_hire_id), LeftSiteForm(request.POST or None, initial=_now("left_site_at"))

    def act() -> str:
        left = form.cleaned_data["left_site_at"]
        acts.record_left_site(off_hire=call, left_site_at=left, by=staff_of(request), at=timezone.now())
        return f"{call.line.cart.fleet_number} has left the site. Record it back once it is in the yard."

    return answer(
        request,
        call.line,
        form,
        act,
        f"{call.line.cart.fleet_number} has left the site",
        button="Write it down",
    )


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def off_hire_failed(request: HttpRequest, off_hire_id: UUID) -> HttpResponse:
    call, form = _of(off_hire_id), FailedPickUpForm(request.POST or None, initial=_now("tried_at"))
    form.initial["back_by"] = fetched_by(timezone.now())

    def act() -> str:
        typed = form.cleaned_data
        acts.record_failed_pick_up(off_hire=call, **typed, by=staff_of(request), at=timezone.now())
        return "The failed pick-up is recorded."

    return answer(
        request,
        call.line,
        form,
        act,
        f"The pick-up of {call.line.cart.fleet_number} failed",
        button="Write it down",
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def off_hire_not_left(request: HttpRequest, off_hire_id: UUID) -> HttpResponse:
    call, form = _of(off_hire_id), WhyForm(request.POST or None)
    cart = call.line.cart.fleet_number

    def act() -> str:
        why = form.cleaned_data["why"]
        acts.not_left_site(off_hire=call, why=why, by=staff_of(request), at=timezone.now())
        return f"{cart} is on site, and waits for its pick-up."

    return answer(
        request, call.line, form, act, f"{cart} has not left the site after all", button="Take it back"
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def not_back(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line, form = get_object_or_404(Line.objects.for_list(), pk=line_id), WhyForm(request.POST or None)
    cart = line.cart.fleet_number

    def act() -> str:
        done = undo_return(line=line, why=form.cleaned_data["why"], by=staff_of(request), at=timezone.now())
        return " ".join([f"{cart} is out on {line.agreement.number} again.", *done.anew])

    says = [
        "The hire goes on and is charged on; its operators and the site’s phones go on with it, and the cart stands where it stood."
    ]
    return answer(request, line, form, act, f"{cart} is not back after all", button="Take it back", says=says)
