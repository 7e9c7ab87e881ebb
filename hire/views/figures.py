"""The figures: what carts and classes did over a period."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from hire import figures_screen as screen
from hire.figures_form import FiguresForm
from hire.figures_inputs import classes_of, told_of
from hire.figures_working import workings_of
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles
from people.roles import DESK, MANAGERS
from people.yard import yard_day
from servicing.costs import costs_of

PAGE = 50


@require_safe
@for_roles(MANAGERS | DESK)
def figures(request: HttpRequest) -> HttpResponse:
    """Every cart of the fleet is reckoned, put in order, and a page of them shown; a row opens to its workings."""
    at = timezone.now()
    form = FiguresForm(request.GET, on=yard_day(at), classes=classes_of())
    if not form.is_valid():
        return render(request, "hire/figures.html", {"page_title": "Figures", "form": form}, status=422)
    asked, by = form.asked(at=at), form.chosen("by", "cart")
    told = told_of(start=asked.start, end=asked.end, costs=costs_of(start=asked.start, end=asked.end))
    rows = screen.rows_of(told, by=by, of=form.chosen("of"))
    rows = screen.in_order(rows, form.chosen("sort"))
    if wants_csv(request):
        return csv_response(f"figures-by-{by}", screen.CSV_HEAD, screen.csv_rows(rows))
    columns = screen.columns_for(rows)
    page = Paginator(rows, PAGE).get_page(request.GET.get("page"))
    opened = next((row for row in rows if row.key == request.GET.get("open")), None)
    context = {
        "page_title": "Figures",
        "form": form,
        "asked": asked,
        "heads": screen.heads_for(columns, by=by, sort=form.chosen("sort")),
        "page": page,
        "rows": [(row, screen.cells_of(row, columns)) for row in page],
        "opened": opened,
        "workings": workings_of(opened) if opened else [],
        "few_words": screen.FEW_WORDS,
    }
    return render(request, "hire/figures.html", context)
