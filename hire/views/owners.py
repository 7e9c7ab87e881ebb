"""Owners of hired-in carts, and the carts we have from them. The desk and the fleet manager alone: here are the owners' prices."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from hire import owner_tables
from hire.actions import owners
from hire.models.owners import HireIn, Owner, OwnerPaper
from hire.owner_forms import OwnerForm, OwnerPaperForm
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_day

PAGE = 50


@require_safe
@for_roles(DESK)
def hire_in_list(request: HttpRequest) -> HttpResponse:
    """The carts hired in, those with us first, and the owners."""
    at = timezone.now()
    rows = HireIn.objects.for_list().filter(struck_at=None)
    rows = rows.order_by(F("returned_at").desc(nulls_first=True), "-period", "pk")
    everybody = Owner.objects.all()
    if wants_csv(request, "owners"):
        return csv_response("owners", owner_tables.OWNER_HEAD, owner_tables.owner_table(everybody))
    if wants_csv(request):
        return csv_response("hired-in", owner_tables.HIRE_IN_HEAD, owner_tables.hire_in_table(rows))
    context = {
        "page_title": "Carts hired in",
        "at": at,
        "page": Paginator(rows, PAGE).get_page(request.GET.get("page")),
        "owners": list(everybody[:PAGE]),
    }
    return render(request, "hire/hire_in_list.html", context)


@require_safe
@for_roles(DESK)
def owner_detail(request: HttpRequest, owner_id: UUID) -> HttpResponse:
    owner, on = get_object_or_404(Owner, pk=owner_id), yard_day(timezone.now())
    papers = OwnerPaper.objects.filter(owner=owner).select_related("owner", "recorded_by")
    rows = HireIn.objects.for_list().filter(owner=owner, struck_at=None)
    if wants_csv(request, "papers"):
        return csv_response("owner-papers", owner_tables.PAPER_HEAD, owner_tables.paper_table(papers))
    if wants_csv(request):
        return csv_response("owner-carts", owner_tables.HIRE_IN_HEAD, owner_tables.hire_in_table(rows))
    shown = list(papers[:PAGE])
    newest = {paper.kind: paper.pk for paper in reversed(shown)}
    context = {
        "page_title": owner.name,
        "owner": owner,
        "papers": [(paper, newest[paper.kind] == paper.pk, paper.has_lapsed(on=on)) for paper in shown],
        "page": Paginator(rows, PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "hire/owner_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def owner_add(request: HttpRequest) -> HttpResponse:
    form = OwnerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            owner = owners.add_owner(by=staff_of(request), at=timezone.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{owner.name} is on record. Record their insurance next.")
            return redirect("hire:owner_detail", owner.pk)
    return _form(request, form, None, "Add an owner")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def owner_change(request: HttpRequest, owner_id: UUID) -> HttpResponse:
    owner = get_object_or_404(Owner, pk=owner_id)
    form = OwnerForm(
        request.POST or None, initial={name: getattr(owner, name) for name in OwnerForm.base_fields}
    )
    if request.method == "POST" and form.is_valid():
        try:
            owners.change_owner(owner=owner, by=staff_of(request), at=timezone.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("hire:owner_detail", owner.pk)
    return _form(request, form, owner, f"Change {owner.name}")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def owner_paper_add(request: HttpRequest, owner_id: UUID) -> HttpResponse:
    owner = get_object_or_404(Owner, pk=owner_id)
    form = OwnerPaperForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            paper = owners.record_owner_paper(
                owner=owner, by=staff_of(request), at=timezone.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{paper} of {owner.name} is recorded.")
            return redirect("hire:owner_detail", owner.pk)
    return _form(request, form, owner, f"Record a paper of {owner.name}")


def _form(
    request: HttpRequest, form: OwnerForm | OwnerPaperForm, owner: Owner | None, title: str
) -> HttpResponse:
    back = reverse("hire:owner_detail", args=[owner.pk]) if owner else reverse("hire:hire_in_list")
    label = owner.name if owner else "carts hired in"
    context = {"page_title": title, "form": form, "back_url": back, "back_label": label}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
