"""What is done with several defects at once, and the page of a fault that several carts have."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.models.defects import Defect
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.roles import MANAGERS, WORKSHOP
from people.yard import yard_policy
from servicing import screens, tables
from servicing.actions import grading
from servicing.actions.together import Outcome, Ticked, for_each, read_ticks
from servicing.bulk_forms import TogetherForm
from servicing.returning import of_check

PAGE = 50


def _date(defect: Defect, version: int, *, due_on: Any, by: Staff, at: datetime) -> Defect:
    """Never eases "do not use": that takes a second person and a photo, which nobody gives for many at once."""
    return grading.assess_defect(
        defect=defect,
        version=version,
        grade="by_date",
        due_on=due_on,
        assigned_to=defect.assigned_to,
        words="",
        by=by,
        at=at,
    )


def _done(ticked: list[Ticked], form: TogetherForm, *, by: Staff, at: datetime) -> Outcome:
    typed = form.cleaned_data
    if typed["act"] == "assign":
        act: Any = partial(grading.assign_defect, assigned_to=typed["person"])
    elif typed["act"] == "date":
        act = partial(_date, due_on=typed["due_on"])
    else:
        act = partial(grading.put_off, until=typed["until"], because=typed["because"])
    return for_each(ticked, lambda defect, version: act(defect=defect, version=version, by=by, at=at))


def _back(
    request: HttpRequest,
    form: TogetherForm,
    ticked: list[Ticked],
    *,
    refusal: str = "",
    outcome: Outcome | None = None,
) -> HttpResponse:
    """The page of what was not done: what was typed is kept, and so are the ticks."""
    refused = outcome.refused if outcome else []
    standing = Defect.objects.for_list().in_bulk([one.defect_id for one in ticked])
    context = {
        "page_title": "With the ticked defects",
        "together": form,
        "form": form if form.errors else None,
        "refusal": refusal,
        "outcome": outcome,
        "refused": refused,
        "ticked": list(standing.values()),
        # From here on they are decided on as this page shows them.
        "kept": [f"{row.pk}:{row.version}" for row in standing.values()],
        "may_decide": staff_of(request).has_role(MANAGERS),
    }
    return render(request, "servicing/together.html", context, status=422)


@require_POST
@for_roles(WORKSHOP)
def defects_together(request: HttpRequest) -> HttpResponse:
    """Assign, date or put off every ticked defect, each by its own action; or open their job sheets."""
    at, by, form = timezone.now(), staff_of(request), TogetherForm(request.POST)
    try:
        ticked = read_ticks(request.POST.getlist("ticked"))[:PAGE]
    except ValueError:
        ticked = []
    if not ticked:
        return _back(request, form, [], refusal="Tick at least one defect in the list first.")
    if not form.is_valid():
        return _back(request, form, ticked)
    if form.cleaned_data["act"] == "print":
        chosen = urlencode([("defect", one.defect_id) for one in ticked])
        return redirect(f"{reverse('servicing:job_sheets')}?{chosen}")
    if not by.has_role(MANAGERS):
        raise PermissionDenied
    outcome = _done(ticked, form, by=by, at=at)
    if outcome.refused:
        left = [one for one in ticked if one.defect_id in {defect.pk for defect, _ in outcome.refused}]
        return _back(request, form, left, outcome=outcome)
    messages.success(request, outcome.words)
    return redirect("servicing:defect_list")


@require_safe
@for_roles(WORKSHOP)
def pattern_detail(request: HttpRequest, check_key: str) -> HttpResponse:
    """One fault that several carts have: its carts, those that still have it first."""
    at = timezone.now()
    # Descending, the database puts the open ones, which have no day of closing, first.
    found = of_check(check_key, at=at).for_list().order_by("-closed_at", "cart__fleet_number")
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    if not page.object_list:
        raise Http404
    if wants_csv(request):
        return csv_response("fault-on-carts", tables.PATTERN_HEAD, tables.pattern_table(found, at=at))
    rows = [(defect, screens.where_words(defect), screens.state_words(defect, at=at)) for defect in page]
    context = {
        "page_title": rows[0][0].title,
        "rows": rows,
        "page": page,
        "carts": found.order_by().values("cart").distinct().count(),
        "days": yard_policy().pattern_within.days,
        "queue_url": f"{reverse('servicing:defect_list')}?{urlencode({'check': check_key})}",
    }
    return render(request, "servicing/pattern_detail.html", context)
