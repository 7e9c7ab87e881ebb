"""What customers' sites ask, and a cart turned away."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from hire import tables
from hire.actions import sites
from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.models.sites import SiteSet, TurnedAway
from hire.site_facts import set_of
from hire.site_forms import SiteSetForm, TurnedAwayForm, typed_of, with_what_failed
from hire.site_rules import site_key
from hire.site_text import asked_rows
from hire.site_where import where_from, where_rows
from hire.views.asked import line_asked
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK, EVERYBODY


@require_safe
@for_roles(DESK)
def site_set_list(request: HttpRequest, customer_id: UUID) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    found = customer.site_sets.in_force().select_related("made_by")
    if wants_csv(request):
        return csv_response("what-sites-ask", tables.SITE_HEAD, tables.site_table(found))
    context = {
        "page_title": f"What {customer.name}’s sites ask",
        "customer": customer,
        "page": Paginator(found, 50).get_page(request.GET.get("page")),
    }
    return render(request, "hire/site_set_list.html", context)


@require_safe
@for_roles(EVERYBODY)
def site_set_detail(request: HttpRequest, set_id: UUID) -> HttpResponse:
    """One issue of what a site asks, the issues before and after it, and who was turned away there."""
    shown = get_object_or_404(SiteSet.objects.select_related("customer", "made_by"), pk=set_id)
    issues = list(
        SiteSet.objects.filter(customer=shown.customer, site_key=shown.site_key)
        .select_related("made_by")
        .order_by("-issue")[:50]
    )
    context = {
        "page_title": f"What {shown.name} asks",
        "shown": shown,
        "asked": shown.asked(),
        "rows": asked_rows(shown.asked()),
        "where": where_rows(where_from(shown.body)),
        "issues": issues,
        "newest": issues[0],
        "turned_away": TurnedAway.objects.filter(line__agreement__customer=shown.customer)
        .filter(line__agreement__place_of_work__iexact=shown.site)
        .select_related("line__cart", "line__agreement")[:20],
        "may_desk": staff_of(request).has_role(DESK),
    }
    return render(request, "hire/site_set_detail.html", context)


def _turned_away(request: HttpRequest) -> TurnedAway | None:
    try:
        return TurnedAway.objects.filter(pk=UUID(request.GET.get("turned", ""))).first()
    except ValueError:
        return None


def _write(
    request: HttpRequest, customer: Customer, old: SiteSet | None, *, site: str, title: str
) -> HttpResponse:
    """The form of a set, and writing it; what a cart was turned away for (?turned=) is put in for a person to look over."""
    turned = _turned_away(request)
    shown: dict[str, Any] = typed_of(old.asked()) | vars(where_from(old.body)) if old else {}
    if turned is not None:
        shown = with_what_failed(shown, turned)
    initial = shown | {"site": site, "issue": old.issue if old else 0}
    kept = frozenset(old.asked().gear if old else ()) | ({turned.gear} if turned and turned.gear else set())
    form = SiteSetForm(request.POST or None, initial=initial, kept=kept)
    if request.method == "POST" and form.is_valid():
        try:
            made = sites.write_site_set(
                customer=customer, site=old.site if old else form.cleaned_data["site"], asked=form.asked(), where=form.where(),
                why=form.cleaned_data["why"], issue=form.cleaned_data["issue"], turned_away=turned,
                by=staff_of(request), at=timezone.now(),
            )  # fmt: skip
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(
                request,
                f"Issue {made.issue} of what {made.name.lower() if not made.site else made.name} asks is written down.",
            )
            return redirect("hire:site_set_detail", made.pk)
    context = {"page_title": title, "form": form, "customer": customer, "old": old, "turned": turned}
    return render(request, "hire/site_set_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def site_set_add(request: HttpRequest, customer_id: UUID) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    site = request.GET.get("site", "").replace("\x00", "")[:120]
    return _write(request, customer, None, site=site, title="Write down what a site asks")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def site_set_change(request: HttpRequest, set_id: UUID) -> HttpResponse:
    """Change what a site asks: always its newest issue, whichever was named."""
    named = get_object_or_404(SiteSet.objects.select_related("customer"), pk=set_id)
    old = sites.newest_issue(named.customer, named.site)
    title = f"Change what {named.name.lower() if not named.site else named.site} asks"
    return _write(request, named.customer, old, site=named.site, title=title)


def _feeding_address(turned: TurnedAway, line: Line) -> str:
    """Where what failed is put into its site's set; a set for all their sites is not changed for one."""
    found = set_of(line)
    own = found is not None and found.site_key == site_key(line.agreement.place_of_work)
    if found is not None and own:
        return f"{reverse('hire:site_set_change', args=[found.pk])}?turned={turned.pk}"
    query = urlencode({"turned": turned.pk, "site": line.agreement.place_of_work})
    return f"{reverse('hire:site_set_add', args=[line.agreement.customer_id])}?{query}"


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def turned_away(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line, at = line_asked(line_id), timezone.now()
    form = TurnedAwayForm(request.POST or None, initial={"at": at})
    if request.method == "POST" and form.is_valid():
        try:
            row = sites.record_turned_away(line=line, turned=form.turned(), by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(
                request, "Written down. Look over what the site asks, so that the next cart is let in."
            )
            return redirect(_feeding_address(row, line))
    context = {
        "page_title": f"{line.cart.fleet_number} was turned away", "form": form, "line": line, "button": "Write it down",
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
