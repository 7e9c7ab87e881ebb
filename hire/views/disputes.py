"""Disputed docket lines: the list, one with both sides' words, opening, adding and deciding."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.records import find_record_url
from fleet.views.asking import photo_of
from hire import money_tables
from hire.actions import disputes
from hire.actions.dispute_packs import take_pack
from hire.charging.money import days_words
from hire.dispute_forms import AddWordsForm, DecideForm, OpenDisputeForm, SaidForm
from hire.dispute_pack import pack_files, pack_index, pack_name
from hire.given_up import days_disputed
from hire.hire_records import records_of
from hire.models.disputes import Dispute
from hire.models.money import Docket
from hire.views.asked import by_its_clock, line_asked
from hire.zip_stream import zip_stream
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_policy

STATES = [("open", "Open"), ("decided", "Decided"), ("all", "All")]


@require_safe
@for_roles(DESK)
def dispute_list(request: HttpRequest) -> HttpResponse:
    """Open disputes, the oldest first; ?state=decided|all, ?q= a customer, cart or docket."""
    state = request.GET.get("state", "open")
    state = state if state in dict(STATES) else "open"
    words = request.GET.get("q", "").replace("\x00", "").strip()
    found = _narrowed(state, words)
    if wants_csv(request):
        return csv_response("disputes", money_tables.DISPUTE_HEAD, money_tables.dispute_table(found))
    context = {
        "page_title": "Disputed docket lines", "states": STATES, "state": state, "words": words,
        "page": Paginator(found, 50).get_page(request.GET.get("page")),
    }  # fmt: skip
    return render(request, "hire/dispute_list.html", context)


def _narrowed(state: str, words: str) -> QuerySet[Dispute]:
    found = Dispute.objects.for_list()
    if state != "all":
        found = found.filter(outcome__isnull=state == "open")
    if words:
        found = found.filter(
            Q(docket__number__icontains=words)
            | Q(docket__line__agreement__customer__name__icontains=words)
            | Q(docket__line__cart__fleet_number__icontains=words)
        )
    return found.order_by("made_at", "pk") if state == "open" else found.order_by("-made_at", "pk")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def dispute_open(request: HttpRequest, docket_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    docket = get_object_or_404(
        Docket.objects.select_related("line__agreement__customer", "line__cart"), pk=docket_id
    )
    line = by_its_clock(docket.line)
    initial = {"by_words": line.agreement.customer.contact_name, "told_at": at}
    form = OpenDisputeForm(
        request.POST or None, request.FILES or None, docket=docket, records=records_of(line, at=at), initial=initial
    )  # fmt: skip
    photo = photo_of(form, by=by, at=at)
    if request.method == "POST" and form.is_valid():
        try:
            dispute = disputes.open_dispute(
                docket=docket, line_no=form.cleaned_data["line_no"], said=form.said(photo), by=by, at=at
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"Line {dispute.line_no} of {docket.number} is disputed.")
            return redirect("hire:dispute_detail", dispute.pk)
    return _form(request, form, f"Dispute a line of {docket.number}", line)


@require_safe
@for_roles(DESK)
def dispute_detail(request: HttpRequest, dispute_id: UUID) -> HttpResponse:
    dispute = get_object_or_404(Dispute.objects.for_list(), pk=dispute_id)
    by_its_clock(dispute.docket.line)
    said = list(dispute.said.select_related("made_by", "photo").order_by("told_at", "made_at"))
    for word in said:
        word.record_url = find_record_url(word.record_kind, word.record_id) if word.record_id else None  # type: ignore[attr-defined]
    given_up = [] if dispute.is_open else [day.on for day in dispute.outcome.days.all()]
    context = {
        "page_title": f"Disputed: {dispute.line_what}", "dispute": dispute, "said": said, "line": dispute.docket.line,
        "given_up_days": days_words(given_up) if given_up else "",
        "working": dispute.docket.body["lines"][dispute.line_no - 1]["working"],
    }  # fmt: skip
    return render(request, "hire/dispute_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def dispute_say(request: HttpRequest, dispute_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    dispute = get_object_or_404(Dispute.objects.for_list(), pk=dispute_id)
    line = by_its_clock(dispute.docket.line)
    initial = {"side": "ours", "by_words": by.full_name, "told_at": at, "how": "record"}
    form = AddWordsForm(
        request.POST or None, request.FILES or None, records=records_of(line, at=at), initial=initial
    )
    photo = photo_of(form, by=by, at=at)
    if request.method == "POST" and form.is_valid():
        try:
            disputes.add_words(
                dispute=dispute, side=form.cleaned_data["side"], said=form.said(photo), by=by, at=at
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, "It is written down.")
            return redirect("hire:dispute_detail", dispute.pk)
    return _form(request, form, f"Add what is said of {dispute}", line, back=dispute)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def dispute_decide(request: HttpRequest, dispute_id: UUID) -> HttpResponse:
    dispute = get_object_or_404(Dispute.objects.for_list(), pk=dispute_id)
    by_its_clock(dispute.docket.line)
    form = DecideForm(request.POST or None, days=days_disputed(dispute))
    if request.method == "POST" and form.is_valid():
        try:
            row = disputes.decide_dispute(
                dispute=dispute, **form.cleaned_data, by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            credit = f" The next docket credits {row.given_up:,.2f}." if row.given_up else ""
            messages.success(request, f"{row.get_outcome_display()}.{credit}")
            return redirect("hire:dispute_detail", dispute.pk)
    return _form(request, form, f"Decide {dispute}", dispute.docket.line, back=dispute)


@require_POST
@for_roles(DESK)
def dispute_pack(request: HttpRequest, line_id: UUID) -> HttpResponseBase:
    """Everything of one hire as a ZIP, sent while it is made."""
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    take_pack(line=line, by=by, at=at)
    index = pack_index(line, at=at, by_words=by.full_name)
    stream = zip_stream(pack_files(line, at=at), index=index, at=at.astimezone(yard_policy().zone))
    response = StreamingHttpResponse(stream, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="{pack_name(line)}"'
    return response


def _form(
    request: HttpRequest, form: SaidForm | DecideForm, title: str, line: Any, *, back: Dispute | None = None
) -> HttpResponse:
    context = {"page_title": title, "form": form, "line": line}
    if back is not None:
        way = reverse("hire:dispute_detail", args=[back.pk])
        context |= {"back_url": way, "back_label": "the dispute"}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
