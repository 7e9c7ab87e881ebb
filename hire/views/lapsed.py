"""Pre-starts that lapsed on hire, and what was said of them."""

from __future__ import annotations

from itertools import chain
from uuid import UUID

from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from hire import tables
from hire.actions.said import record_said
from hire.copies import copied_lines, missing_weeks
from hire.lapsed import lapsed_of, watched_lines
from hire.said_forms import SaidForm
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import DESK


@require_safe
@for_roles(DESK)
def lapsed_list(request: HttpRequest) -> HttpResponse:
    at, words = timezone.now(), request.GET.get("q", "").replace("\x00", "").strip()
    named = Q(cart__fleet_number__icontains=words) | Q(agreement__customer__name__icontains=words)
    lines, copied = watched_lines().filter(named), copied_lines(at=at).filter(named)
    weeks = missing_weeks(list(copied), at=at)
    if wants_csv(request, "weeks"):
        return csv_response("weeks-without-a-copy", tables.COPY_HEAD, tables.copy_table(weeks))
    rows = sorted(
        chain.from_iterable(lapsed_of(list(lines), at=at).values()),
        key=lambda row: (-row.shift.starts_at.timestamp(), row.line.cart.fleet_number),
    )
    if wants_csv(request):
        return csv_response("lapsed-pre-starts", tables.LAPSED_HEAD, tables.lapsed_table(rows))
    context = {
        "page_title": "Lapsed pre-starts",
        "page": Paginator(rows, 50).get_page(request.GET.get("page")),
        "weeks": Paginator(weeks, 50).get_page(request.GET.get("weeks")),
        "words": words,
    }
    return render(request, "hire/lapsed_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def pre_start_said(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_asked(line_id)
    initial = {
        "shift": request.GET.get("shift", ""), "said_at": at, "said_by_words": line.agreement.customer.contact_name
    }  # fmt: skip
    form = SaidForm(request.POST or None, lapsed=lapsed_of([line], at=at)[line.pk], initial=initial)

    def act() -> str:
        record_said(line=line, **form.cleaned_data, by=staff_of(request), at=at)
        return "What was said is written down."

    return answer(
        request, line, form, act, f"What was said of {line.cart.fleet_number}", button="Write it down"
    )
