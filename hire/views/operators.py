"""The book of operators: who they are, what tickets they hold, what lapses soon."""

from __future__ import annotations

from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.views.asking import form_page, photo_of, posted, press
from hire.actions import operator_links, operators
from hire.forms import WhyForm
from hire.models.operators import Operator, OperatorTurn, Ticket
from hire.operator_forms import OperatorForm, TicketForm
from hire.operator_screens import TICKET_HEAD, newest, operator_rows, ticket_row, ticket_table
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_day, yard_policy

LICENCE_CAUTION = (
    "Which class a cart asks for is common practice: the law of the place, the licence itself and the site’s own "
    "rules decide."
)


class FindForm(forms.Form):
    q = forms.CharField(label="Name or firm ", max_length=80, required=False)


@require_safe
@for_roles(DESK)
def operator_list(request: HttpRequest) -> HttpResponse:
    """Those in the book, with what of theirs lapses first; the tickets that lapse within the yard's lead time above them."""
    at = timezone.now()
    form, found = FindForm(request.GET), Operator.objects.working()
    word = form.cleaned_data["q"] if form.is_valid() else ""
    if word:
        found = found.filter(
            Q(staff__full_name__icontains=word) | Q(name__icontains=word) | Q(firm__icontains=word)
        )
    tickets = Ticket.objects.counting().filter(operator__ended_at=None).for_list()
    if wants_csv(request):
        narrowed = tickets.filter(operator__in=found.values("pk")).order_by("operator", "kind", "ends_on")
        return csv_response("operators-tickets", TICKET_HEAD, ticket_table(narrowed))
    page = Paginator(found.for_list(), 50).get_page(request.GET.get("page"))
    context = {
        "page_title": "Operators",
        "form": form,
        "word": word,
        "page": page,
        "rows": operator_rows(list(page), at=at),
        "lead_days": yard_policy().document_lead.days,
    }
    return render(request, "hire/operator_list.html", context)


@require_safe
@for_roles(DESK)
def operator_detail(request: HttpRequest, operator_id: UUID) -> HttpResponse:
    at, operator = timezone.now(), _operator(operator_id)
    tickets = list(operator.tickets.for_list().order_by("kind", "-ends_on"))
    if wants_csv(request):
        return csv_response("tickets", TICKET_HEAD, ticket_table(tickets))
    current = {one.pk for one in newest(ticket for ticket in tickets if ticket.struck_at is None)}
    on = yard_day(at)
    context = {
        "page_title": str(operator),
        "operator": operator,
        "now": [ticket_row(one, on=on) for one in tickets if one.pk in current],
        "past": [ticket_row(one, on=on) for one in tickets if one.pk not in current],
        "turns": OperatorTurn.objects.to_come(at=at)
        .filter(operator=operator)
        .for_list()
        .order_by("period")[:20],
        "caution": LICENCE_CAUTION,
        "link": operator.links.filter(revoked_at=None, expires_at__gt=at).select_related("made_by").first(),
        "new_link": request.session.pop("new_operator_link", None),
    }
    return render(request, "hire/operator_detail.html", context)


def _operator(operator_id: UUID) -> Operator:
    return get_object_or_404(Operator.objects.for_list(), pk=operator_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def operator_add(request: HttpRequest) -> HttpResponse:
    form = OperatorForm(request.POST or None)
    operator = posted(request, form, operators.add_operator, at=timezone.now())
    if operator is not None:
        messages.success(request, f"{operator} is in the book. Record the licence next.")
        return redirect("hire:operator_detail", operator.pk)
    return form_page(
        request, form, title="Add an operator", button="Add the operator", back=reverse("hire:operator_list"),
        back_label="the operators",
    )  # fmt: skip


@require_POST
@for_roles(DESK)
def operator_end(request: HttpRequest, operator_id: UUID) -> HttpResponse:
    operator = _operator(operator_id)
    press(
        request, operators.end_operator, operator=operator, done=f"{operator} is out of the book.", at=timezone.now()
    )  # fmt: skip
    return redirect("hire:operator_detail", operator_id)


@require_POST
@for_roles(DESK)
def operator_link_make(request: HttpRequest, operator_id: UUID) -> HttpResponse:
    operator = _operator(operator_id)
    try:
        _, token = operator_links.make_operator_link(
            operator=operator, by=staff_of(request), at=timezone.now()
        )
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        # Shown once, on the next page only: the yard keeps its hash and nothing else.
        request.session["new_operator_link"] = request.build_absolute_uri(
            reverse("hire:operator_page", args=[token])
        )
        messages.success(request, f"The link for {operator} is made. Copy it now: it is shown once.")
    return redirect("hire:operator_detail", operator_id)


@require_POST
@for_roles(DESK)
def operator_link_end(request: HttpRequest, operator_id: UUID) -> HttpResponse:
    operator = _operator(operator_id)
    done = f"The link for {operator} opens nothing any more."
    press(request, operator_links.end_operator_link, operator=operator, done=done, at=timezone.now())
    return redirect("hire:operator_detail", operator_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def ticket_add(request: HttpRequest, operator_id: UUID) -> HttpResponse:
    at, operator = timezone.now(), _operator(operator_id)
    form = TicketForm(request.POST or None, request.FILES or None)
    photo = photo_of(form, by=staff_of(request), at=at)
    ticket = posted(request, form, operators.record_ticket, at=at, operator=operator, photo=photo)
    if ticket is not None:
        messages.success(request, f"{ticket} of {operator} is recorded.")
        return redirect("hire:operator_detail", operator.pk)
    return form_page(
        request, form, title=f"Record a ticket of {operator}", button="Record it", note=LICENCE_CAUTION,
        back=reverse("hire:operator_detail", args=[operator.pk]), back_label=str(operator),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def ticket_strike(request: HttpRequest, ticket_id: UUID) -> HttpResponse:
    ticket = get_object_or_404(Ticket.objects.for_list(), pk=ticket_id)
    form = WhyForm(request.POST or None)
    if posted(request, form, operators.strike_ticket, at=timezone.now(), ticket=ticket) is not None:
        messages.success(request, f"{ticket} of {ticket.operator} counts no longer.")
        return redirect("hire:operator_detail", ticket.operator_id)
    return form_page(
        request, form, title=f"Strike out {ticket} of {ticket.operator}", button="Strike it out",
        back=reverse("hire:operator_detail", args=[ticket.operator_id]), back_label=str(ticket.operator),
    )  # fmt: skip
