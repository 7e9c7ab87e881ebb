"""Passes by authority counted by month, person and rule, and the passes behind each figure."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet import pass_count as counting
from fleet.models.standing import Pass
from fleet.passing import rule_words
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import for_roles
from people.roles import MANAGERS
from people.yard import yard_day

PAGE = 50


class MonthForm(forms.Form):
    """The month, as the address has it."""

    month = forms.DateField(
        label="Month",
        required=False,
        input_formats=["%Y-%m"],
        widget=forms.DateInput(attrs={"type": "month"}, format="%Y-%m"),
    )


def _month(asked: QueryDict, *, on: date) -> tuple[MonthForm, counting.Month]:
    """The month asked for; without one, or where what was asked is none, the present one."""
    form = MonthForm({"month": asked.get("month") or f"{on:%Y-%m}"}, auto_id="narrow_%s")
    first = form.cleaned_data["month"] if form.is_valid() and form.cleaned_data["month"].year >= 2000 else on
    return form, counting.Month(first.replace(day=1))


@require_safe
@for_roles(MANAGERS)
def pass_count(request: HttpRequest) -> HttpResponse:
    """How many passes each person gave by each rule in a month."""
    at = timezone.now()
    form, month = _month(request.GET, on=yard_day(at))
    rows = counting.month_rows(month, at=at)
    if wants_csv(request):
        return csv_response(f"passes-{month.text}", counting.COUNT_HEAD, counting.count_table(rows))
    context = {
        "page_title": "Passes by authority, counted",
        "form": form,
        "month": month,
        "rows": rows,
        "heads": counting.HEADS.values(),
    }
    return render(request, "fleet/pass_count.html", context)


def _narrowed(request: HttpRequest, *, at: datetime) -> tuple[list[str], list[Pass]]:
    """What the address narrows the passes to, in words, and those passes, latest first. 404 for what is not there."""
    asked, words = request.GET, []
    passes = Pass.objects.all()
    if "month" in asked:
        month = _month(asked, on=yard_day(at))[1]
        passes = month.given()
        words.append(month.words)
    try:
        if by := asked.get("by"):
            person = get_object_or_404(Staff, pk=UUID(by))
            passes = passes.filter(given_by=person)
            words.append(person.full_name)
        if rule := asked.get("rule"):
            passes = passes.filter(rule=rule)
            words.append(rule_words(rule))
        which = asked.get("which", "")
        if which:
            passes = passes.filter(counting.counted_as(which, at=at))
            words.append(counting.HEADS[which].lower())
    except (KeyError, ValueError) as error:
        raise Http404("No passes are counted so.") from error
    return words, list(passes.select_related("cart", "given_by", "entered_by", "second_person"))


@require_safe
@for_roles(MANAGERS)
def pass_list(request: HttpRequest) -> HttpResponse:
    """The passes behind one figure of the count; without one, all of them."""
    at = timezone.now()
    words, passes = _narrowed(request, at=at)
    if wants_csv(request):
        return csv_response("passes", counting.LIST_HEAD, counting.list_table(passes))
    context = {
        "page_title": "Passes by authority",
        "lead": f"{', '.join(words)}." if words else "All of them, latest first.",
        "month": request.GET.get("month", ""),
        "page": Paginator(passes, PAGE).get_page(request.GET.get("page")),
        "at": at,
    }
    return render(request, "fleet/pass_list.html", context)
