"""Daily dockets of wet hire: made and signed on a phone, listed for the desk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import Q
from django.forms import DateField
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.asking import attempt
from hire import load_page
from hire.actions import daily
from hire.daily_facts import missing_days, wet_lines
from hire.daily_forms import NOBODY, SIGNED, DailyFilter, DailyForm, SignForm
from hire.daily_screens import DAILY_HEAD, STATEMENT, daily_facts, daily_rows, daily_table, drawing
from hire.models.agreements import Line
from hire.models.daily import DailyDocket, DailyDocketQuerySet
from hire.models.operators import Operator, OperatorLink, OperatorTurn
from hire.views.asked import by_its_clock, of_a_hire
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.roles import DESK, EVERYBODY

MISSING_SHOWN = 60


def _narrowed(found: DailyDocketQuerySet, form: DailyFilter) -> DailyDocketQuerySet:
    """By what of the filter makes sense; a word nobody offers narrows nothing."""
    form.is_valid()
    typed = form.cleaned_data
    if word := typed.get("hire"):
        found = found.filter(
            Q(line__agreement__number__icontains=word)
            | Q(line__cart__fleet_number__icontains=word)
            | Q(line__agreement__customer__name__icontains=word)
        )
    if operator := typed.get("operator"):
        found = found.filter(operator=operator)
    if on := typed.get("day"):
        found = found.filter(on=on)
    if signed := typed.get("signed"):
        found = found.filter(signature__isnull=signed == "no")
    return found


@require_safe
@for_roles(EVERYBODY)
def daily_list(request: HttpRequest) -> HttpResponse:
    """The dockets that stand, those nobody signed first; days without one; an operator sees their own, and their hires."""
    at, person = timezone.now(), staff_of(request)
    form = DailyFilter(request.GET)
    found = _narrowed(DailyDocket.objects.standing().visible_to(person), form).unsigned_first().for_list()
    if wants_csv(request):
        return csv_response("daily-dockets", DAILY_HEAD, daily_table(found))
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    mine = OperatorTurn.objects.standing().filter(operator__staff=person, line__handed_over_at__isnull=False)
    is_desk = person.has_role(DESK)
    lines = (
        wet_lines(at=at) if is_desk else [turn.line for turn in mine.filter(line__back_at=None).for_list()]
    )
    missing = missing_days({line.pk: line for line in lines}.values(), at=at)
    context = {
        "page_title": "Daily dockets",
        "form": form,
        "is_narrowed": any(request.GET.get(name) for name in form.fields),
        "page": page,
        "rows": daily_rows(page),
        "missing": missing[:MISSING_SHOWN],
        "missing_more": max(len(missing) - MISSING_SHOWN, 0),
        "lines": list({line.pk: line for line in lines if line.is_out}.values()),
        "is_desk": is_desk,
    }
    return render(request, "hire/daily_list.html", context)


def _docket(request: HttpRequest, docket_id: UUID) -> DailyDocket:
    """404 for a docket that is none of theirs: another operator's day is not shown."""
    return of_a_hire(
        get_object_or_404(DailyDocket.objects.visible_to(staff_of(request)).for_list(), pk=docket_id)
    )


@require_safe
@for_roles(EVERYBODY)
def daily_detail(request: HttpRequest, docket_id: UUID) -> HttpResponse:
    docket = _docket(request, docket_id)
    context = {
        "page_title": f"Daily docket {docket.number}",
        "docket": docket,
        "line": docket.line,
        "facts": daily_facts(docket),
        "drawing": drawing(docket),
        "replaced_by": docket.replaced_by if docket.is_replaced else None,
        "may_change": not docket.is_replaced,
        "is_desk": staff_of(request).has_role(DESK),
    }
    return render(request, "hire/daily_detail.html", context)


def _operators(line: Line, request: HttpRequest) -> list[Operator]:
    """Who may have worked with the cart: for the desk everybody put down, for an operator themselves."""
    person = staff_of(request)
    turns = OperatorTurn.objects.standing().filter(line=line)
    if not person.has_role(DESK):
        turns = turns.filter(operator__staff=person)
    return list(Operator.objects.filter(pk__in=turns.values("operator")).for_list())


def initial_of(line: Line, request: HttpRequest, *, at: datetime) -> dict[str, Any]:
    """The day, and what was tapped of it: a person may change both."""
    asked = DateField(required=False)
    try:
        on = asked.clean(request.GET.get("on"))
    except ValidationError:
        on = None
    on = on or at.astimezone(ZoneInfo(line.agreement.time_zone)).date()
    is_night = line.agreement.is_night or request.GET.get("shift") == "night"
    return {"on": on, "mode": SIGNED, "is_night": is_night} | load_page.of_shift(
        line, on=on, is_night=is_night
    )


def as_typed(docket: DailyDocket) -> dict[str, Any]:
    """A docket as its form shows it, to be put right."""
    zone = ZoneInfo(docket.line.agreement.time_zone)
    same = (
        "on", "travel_hours", "is_night", "standby_hours", "standby_why", "loads", "water_words", "water_source", "fuel_l",
        "cancelled_late", "words",
    )  # fmt: skip
    return {name: getattr(docket, name) for name in same} | {
        "operator": docket.operator_id,
        "start": docket.starts_at.astimezone(zone).time() if docket.starts_at else None,
        "finish": docket.finishes_at.astimezone(zone).time() if docket.finishes_at else None,
        "break_minutes": int(docket.breaks.total_seconds() // 60),
        "mode": SIGNED if docket.is_signed else NOBODY,
        "nobody_why": docket.unsigned_why,
    }


@dataclass(frozen=True)
class Way:
    """Through which door a docket is written: its page's layout, the page it goes back to, and the page of a docket made."""

    layout: str
    back_url: str
    back_label: str
    made_url: Callable[[UUID], str]


def write_page(
    request: HttpRequest, line: Line, initial: dict[str, Any], *, operators: Sequence[Operator], by: Staff | OperatorLink,
    way: Way, replaces: DailyDocket | None = None, at: datetime,
) -> HttpResponse:  # fmt: skip
    """The form of a docket; made, on to its page."""
    zone = ZoneInfo(line.agreement.time_zone)
    form = DailyForm(
        request.POST or None, initial=initial, operators=operators, zone=zone, replaces=replaces is not None
    )
    if replaces is None and initial.get("loads"):
        form.fields[
            "loads"
        ].help_text = "As they were tapped, the water points too. Put right what was not tapped."
    if request.method == "POST" and form.is_valid():
        docket = attempt(
            form, daily.make_daily, line=line, operator=form.cleaned_data["operator"], day=form.day(), signed=form.signed(),
            replaces=replaces, why=form.cleaned_data.get("why", ""), by=by, at=at,
        )  # fmt: skip
        if docket is not None:
            return redirect(way.made_url(docket.pk))
    context = {
        "page_title": f"Put {replaces.number} right"
        if replaces
        else f"Daily docket, {line.cart.fleet_number}",
        "line": line,
        "form": form,
        "operators": operators,
        "replaces": replaces,
        "way": way,
        "statement": STATEMENT,
    }
    return render(request, "hire/daily_form.html", context, status=422 if request.method == "POST" else 200)


def _written(
    request: HttpRequest, line: Line, initial: dict[str, Any], replaces: DailyDocket | None, *, at: datetime
) -> HttpResponse:
    person, operators = staff_of(request), _operators(line, request)
    if not operators and not person.has_role(DESK):
        raise Http404
    way = Way(
        "layouts/yard.html", reverse("hire:daily_list"), "the daily dockets",
        lambda made: reverse("hire:daily_detail", args=[made]),
    )  # fmt: skip
    return write_page(
        request, line, initial, operators=operators, by=person, way=way, replaces=replaces, at=at
    )


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def daily_add(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = (
        timezone.now(),
        by_its_clock(get_object_or_404(Line.objects.for_list().filter(wet__isnull=False), pk=line_id)),
    )
    return _written(request, line, initial_of(line, request, at=at), None, at=at)


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def daily_replace(request: HttpRequest, docket_id: UUID) -> HttpResponse:
    docket = _docket(request, docket_id)
    return _written(request, docket.line, as_typed(docket), docket, at=timezone.now())


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def daily_sign(request: HttpRequest, docket_id: UUID) -> HttpResponse:
    """The customer's person signs on the phone of whoever is signed in."""
    docket, form = _docket(request, docket_id), SignForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signed = attempt(
            form, daily.sign_daily, docket=docket, signed=form.signed(), by=staff_of(request), at=timezone.now()
        )  # fmt: skip
        if signed is not None:
            messages.success(request, f"{docket.number} is signed by {signed.name}.")
            return redirect("hire:daily_detail", docket.pk)
    context = {
        "page_title": f"Sign {docket.number}",
        "docket": docket,
        "form": form,
        "facts": daily_facts(docket),
        "statement": STATEMENT,
    }
    return render(request, "hire/daily_sign.html", context, status=422 if request.method == "POST" else 200)
