"""Handing over and taking back."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.road_fill import paper_words, road_fill
from fleet.sentences import readiness_sentence
from fleet.views.asking import photos_taken_in
from hire import screens
from hire.actions import gate
from hire.actions.gate_given import Given
from hire.actions.gate_late import is_late
from hire.actions.late_looks import NothingToLookAt, look_at_handover
from hire.forms import BackForm, HandoverForm, LookForm
from hire.late_entries import although_words
from hire.models.gate import Handover
from hire.papers import accept_words
from hire.site_facts import set_of
from hire.views.asked import line_asked
from hire.views.off_hire import answer as answered
from hire.views.sides import sides_taken_in
from hire.water_on_hire import carried_on
from hire.wet_screens import driven_words
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import AT_THE_GATE, FLEET_ONLY, MANAGERS
from people.yard import yard_day


def _bound(request: HttpRequest, *, by: Staff, at: datetime) -> HandoverForm:
    """The form as posted, its photos taken in first, so that a fault elsewhere does not send anybody out to take them
    again. A photo that is refused is a fault of its field."""
    data = request.POST.copy()
    kept, faults = photos_taken_in(request, by=by, at=at)
    data.setlist("kept_photos", kept)
    told = [("photos", sentence) for sentence in faults] + sides_taken_in(request, data, by=by, at=at)
    form = HandoverForm(data)
    for field, sentence in told:
        form.add_error(field, sentence)
    return form


def _given(form: HandoverForm) -> Given:
    typed: dict[str, Any] = form.cleaned_data
    drawn = typed["strokes"] not in ("", "[]")
    return Given(
        mode=typed["mode"],
        place_words=typed["place_words"],
        keys_words=typed["keys_words"],
        condition_words=typed["condition_words"],
        items_words=typed["items_words"],
        fuel_eighths=typed["fuel_eighths"],
        taken_by_name=typed["signed_name"],
        signature_kind="drawn" if drawn else "typed",
        strokes=typed["strokes"] if drawn else "",
        limits_accepted=typed["limits_accepted"],
        photos=tuple(typed["kept_photos"]),
        sides=form.side_photos(),
        happened_at=typed["happened_at"],
        although_words=typed["although_words"],
    )


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def handover(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    initial = {"place_words": line.cart.home_yard}
    form = _bound(request, by=by, at=at) if request.method == "POST" else HandoverForm(initial=initial)
    refusal = ""
    if request.method == "POST" and form.is_valid():
        try:
            done = gate.hand_over(line=line, given=_given(form), by=by, at=at)
        except Refusal as no:
            if no.field in form.fields:
                form.add_error(no.field, no.sentence)
            else:
                refusal = no.sentence
        else:
            paper = (
                "The receipt is issued" if done.certificate_number else "No receipt: it had no certificate"
            )
            messages.success(request, f"{line.cart.fleet_number} has left. {paper}.")
            return redirect("hire:line_detail", line.pk)
    told = form.cleaned_data.get("happened_at") if form.is_bound else None
    answer = gate.gate_readiness(line, at=at)
    site = set_of(line)
    context = {
        "asked": site.asked() if site else None,
        "page_title": f"Hand over {line.cart.fleet_number}",
        "line": line,
        "form": form,
        "refusal": refusal,
        # It has left already: what stops it now says nothing of the time it left, which the action judges.
        "is_gone": "gone" in request.GET or is_late(told, at=at),
        "may_say_why": by.has_role(MANAGERS),
        "answer": answer,
        "sentence": readiness_sentence(answer),
        "stops": screens.stop_rows(answer),
        "may_be_passed": any(blocker.passed_by for blocker in answer.blockers),
        "cautions": screens.caution_rows(answer),
        "certificate": gate.valid_certificate(line),
        "driven": driven_words(line, at=at),
        "on_road": paper_words(road_fill(line.cart, on=yard_day(at), rule_set=line.agreement.rule_set)),
        "statement": accept_words(bool(answer.limits or answer.passed)),
    }
    return render(request, "hire/handover.html", context, status=422 if request.method == "POST" else 200)


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def handover_looked_at(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    form, cart = LookForm(request.POST or None), line.cart.fleet_number
    done = Handover.objects.filter(line=line).select_related("by").first()

    def act() -> str:
        if done is None:
            raise NothingToLookAt(f"{cart} has not been handed over on {line.agreement.number}.")
        words, by = form.cleaned_data["words"], staff_of(request)
        look_at_handover(handover=done, words=words, by=by, at=timezone.now())
        return f"You have looked at the handover of {cart}."

    return answered(
        request,
        line,
        form,
        act,
        f"The handover of {cart}, entered late",
        button="I have looked at it",
        says=[*although_words(done), *(f"Stopped since: {one}" for one in done.since)] if done else (),
    )


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def back(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    allowed = "potable" if line.agreement.water == "potable" else ""
    form = BackForm(request.POST or None, initial={"water": carried_on(line) or allowed})
    if request.method == "POST" and form.is_valid():
        try:
            gate.bring_back(line=line, **form.cleaned_data, by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(
                request,
                f"{line.cart.fleet_number} is back in the yard. Walk it as returned, before the wash, then decide what is charged.",
            )
            return redirect("hire:line_detail", line.pk)
    context = {"page_title": f"{line.cart.fleet_number} is back in the yard", "form": form, "line": line}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
