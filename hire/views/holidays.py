"""The public holidays of the yard, and its own say about them."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hire import money_tables
from hire.actions import holidays
from hire.models.holidays import YardDay
from hire.money_forms import YardDayForm
from hire.public_holidays import yard_holidays
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK, MANAGERS
from people.yard import yard_day, yard_policy

PRICERS = MANAGERS | DESK
# Years the page shows either side of this one.
AROUND = 5


@require_http_methods(["GET", "POST"])
@for_roles(PRICERS)
def holiday_list(request: HttpRequest) -> HttpResponse:
    """A year's public holidays (?year=) with the days the yard decided itself; a post decides one."""
    at = timezone.now()
    this = yard_day(at).year
    asked = request.GET.get("year", "")
    year = (
        int(asked) if asked.isascii() and asked.isdigit() and abs(int(asked[:6]) - this) <= AROUND else this
    )
    form = YardDayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            day = holidays.decide_day(**form.cleaned_data, by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{day.what}: {day.get_kind_display().lower()}.")
            return redirect(f"{request.path}?year={day.on.year}")
    first, last = date(year, 1, 1), date(year, 12, 31)
    days = yard_holidays(first=first, last=last)
    own = list(YardDay.objects.standing().filter(on__range=(first, last)).select_related("made_by"))
    if wants_csv(request):
        rows = money_tables.holiday_table(days, own)
        return csv_response(f"holidays-{year}", money_tables.HOLIDAY_HEAD, rows)
    policy = yard_policy()
    context = {
        "page_title": f"Public holidays, {year}", "year": year, "days": days.items(), "own": own, "form": form,
        "where": ", ".join(word for word in (policy.holiday_region, policy.holiday_country) if word),
    }  # fmt: skip
    return render(request, "hire/holiday_list.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(PRICERS)
def holiday_take_back(request: HttpRequest, day_id: UUID) -> HttpResponse:
    day = holidays.take_day_back(
        day=get_object_or_404(YardDay, pk=day_id), by=staff_of(request), at=timezone.now()
    )
    messages.success(request, f"The calendar counts again for {day.on:%-d %b %Y}.")
    return redirect("hire:holiday_list")
