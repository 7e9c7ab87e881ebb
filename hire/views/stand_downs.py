"""Days stood down at the desk: told, claimed, agreed, refused and struck out."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions import stand_down_claims, stand_downs
from hire.charging.money import day_words
from hire.day_record import day_records, days_to_look_at
from hire.forms import WhyForm
from hire.models.agreements import StandDown
from hire.models.stand_downs import StandDownClaim
from hire.stand_down_forms import AgreeForm, StandDownForm
from hire.stand_down_rows import claim_sentences
from hire.views.asked import line_asked, of_a_hire
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of
from people.roles import DESK

# Days told of before one is stood down: the same week, where most are.
DAYS_SHOWN = 7


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_stand_down(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    today = line.agreement.day(at)
    form = StandDownForm(request.POST or None, initial={"on": today, "told_at": at})
    records = day_records(line, days_to_look_at(line, today, count=DAYS_SHOWN))

    def act() -> str:
        day, facts = form.said()
        if form.is_claim:
            stand_down_claims.claim_stand_down(line=line, **day, facts=facts, by=by, at=at)
            return f"{day_words(day['on'])} is claimed. It is charged until somebody agrees it."
        stand_downs.stand_down(line=line, **day, facts=facts, by=by, at=at)
        return "Stood down; no pre-start is owed for that day."

    title = f"Stand {line.cart.fleet_number} down for a day"
    return answer(request, line, form, act, title, says=[one.sentence for one in records])


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def stand_down_strike(request: HttpRequest, stand_down_id: UUID) -> HttpResponse:
    row, form = _day_of(stand_down_id), WhyForm(request.POST or None)

    def act() -> str:
        why = form.cleaned_data["why"]
        stand_downs.strike_stand_down(stand_down=row, why=why, by=staff_of(request), at=timezone.now())
        return f"{day_words(row.on)} is struck out. It is charged, and put right by the next docket."

    title = f"Strike out {day_words(row.on)} of {row.line.cart.fleet_number}"
    return answer(request, row.line, form, act, title, button="Strike it out")


def _day_of(stand_down_id: UUID) -> StandDown:
    rows = StandDown.objects.select_related("line__cart", "line__agreement__customer")
    return of_a_hire(get_object_or_404(rows, pk=stand_down_id))


def _claim_of(claim_id: UUID) -> StandDownClaim:
    return of_a_hire(get_object_or_404(StandDownClaim.objects.for_list(), pk=claim_id))


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def claim_agree(request: HttpRequest, claim_id: UUID) -> HttpResponse:
    claim = _claim_of(claim_id)
    records = day_records(claim.line, [claim.on])
    initial = {name: getattr(claim, name) for name in AgreeForm.base_fields}
    for record in records:
        if record.worked_hours is not None:
            initial["worked_hours"] = record.worked_hours
    form = AgreeForm(request.POST or None, initial=initial)

    def act() -> str:
        stand_down_claims.agree_claim(
            claim=claim, **form.cleaned_data, by=staff_of(request), at=timezone.now()
        )
        return f"{day_words(claim.on)} is agreed, and stood down as the terms say."

    title = f"Agree {day_words(claim.on)} of {claim.line.cart.fleet_number} as stood down"
    return answer(
        request,
        claim.line,
        form,
        act,
        title,
        button="Agree it",
        says=[*claim_sentences(claim, at=timezone.now()), *(one.sentence for one in records)],
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def claim_refuse(request: HttpRequest, claim_id: UUID) -> HttpResponse:
    claim, form = _claim_of(claim_id), WhyForm(request.POST or None)

    def act() -> str:
        why = form.cleaned_data["why"]
        stand_down_claims.refuse_claim(claim=claim, why=why, by=staff_of(request), at=timezone.now())
        return f"{day_words(claim.on)} is refused, and charged. The customer reads why."

    title = f"Refuse {day_words(claim.on)} of {claim.line.cart.fleet_number}"
    return answer(
        request,
        claim.line,
        form,
        act,
        title,
        button="Refuse it",
        says=claim_sentences(claim, at=timezone.now()),
    )
