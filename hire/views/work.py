"""Correcting what was said of a hire's work."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.readiness import readiness
from fleet.sentences import readiness_sentence
from hire.actions.gate import gate_readiness
from hire.actions.work import change_work
from hire.promises import window_of
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from hire.work_forms import WorkForm
from people.permissions import for_roles, staff_of
from people.roles import DESK


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def work_change(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    form = WorkForm(request.POST or None, line=line)

    def act() -> str:
        done = change_work(line=line, **form.said(), by=by, at=at)
        now = done.line
        found = (
            gate_readiness(now, at=at)
            if now.promised.lower <= at
            else readiness(now.cart, window=window_of(now), at=at)
        )
        return " ".join(
            ("The work is changed.", *done.also, f"{now.cart.fleet_number}: {readiness_sentence(found)}")
        )

    return answer(
        request, line, form, act, f"Change the work of {line.agreement.number}", button="Change the work"
    )
