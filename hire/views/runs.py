"""The run sheet of a day and the next, and what is typed for one run."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.yards import yards_for
from hire.actions.runs import note_run
from hire.models.runs import LEGS, RunNote
from hire.run_forms import DayForm, RunForm
from hire.runs import DAY, RUN_HEAD, last_noted, run_table, runs_on, sheet_due
from hire.views.asked import line_asked
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import AT_THE_GATE, DESK
from people.yard import yard_day


@require_safe
@for_roles(AT_THE_GATE)
def run_sheet(request: HttpRequest) -> HttpResponse:
    """Tomorrow's runs and the day after's, or those of another day."""
    at = timezone.now()
    usual = yard_day(at) + timedelta(days=1)
    yards, on = yards_for(request), DayForm(request.GET).day(usual)
    days = [(day, runs_on(day, at=at, yards=yards)) for day in (on, on + DAY)]
    # A cart that waits on site is fetched on one day: the first.
    listed = {(run.line.pk, run.leg) for run in days[0][1] if run.line}
    days[1] = (
        days[1][0],
        [run for run in days[1][1] if not run.line or (run.line.pk, run.leg) not in listed],
    )
    if wants_csv(request):
        return csv_response(f"runs-{on:%Y-%m-%d}", RUN_HEAD, run_table(days))
    context = {
        "page_title": f"Run sheet, {on.day} {on:%B %Y}",
        "filters": DayForm({"on": f"{on:%Y-%m-%d}"}),
        "yards": yards,
        "days": days,
        "before": on - DAY,
        "after": on + DAY,
        "due_at": sheet_due(on),
        "lacking": sum(bool(run.urgent) for run in days[0][1]),
        "at": at,
        "may_note": staff_of(request).has_role(DESK),
    }
    return render(request, "hire/run_sheet.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def run_note(request: HttpRequest, line_id: UUID, leg: str) -> HttpResponse:
    if leg not in dict(LEGS):
        raise Http404
    line = line_asked(line_id)
    note = RunNote.objects.filter(line=line, leg=leg).first()
    form = RunForm.of(line, note, last_noted(line, leg) if note is None else None, request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            note_run(line=line, leg=leg, typed=form.typed(), by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"The run of {line.cart.fleet_number} is written down.")
            day = yard_day(line.promised.lower if leg == "out" else line.promised.upper)
            # Awaiting pick-up, or overdue, it stands on the sheets of days to come.
            day = day if leg == "out" else max(day, yard_day(timezone.now()) + DAY)
            return redirect(f"{reverse('hire:run_sheet')}?on={day:%Y-%m-%d}")
    way = {"out": "to", "back": "back from"}[leg]
    title = f"The run of {line.cart.fleet_number} {way} {line.agreement.place_of_work}"
    context = {"page_title": title, "form": form, "line": line, "button": "Write it down"}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
