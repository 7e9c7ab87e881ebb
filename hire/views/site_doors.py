"""Where a customer's person comes to the pre-start on a phone: through the hire's link, or from the plate with the site code;
and what the desk gives out and ends."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms import NameOnSiteForm, PlateForm
from fleet.plate_code import plate_address
from fleet.views.pictures import plate_page
from hire.actions import site
from hire.models.links import CustomerLink
from hire.rights import ON_SITE
from hire.views.asked import line_asked
from hire.views.customer_pages import customer_context
from hire.views.links import through_a_link
from inspections.models import SiteWalker
from inspections.site_cookie import known_walker, put_cookie, token_in
from inspections.site_walkers import plain_name
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.throttle import address_of


def _to_the_pre_start(walker: SiteWalker, token: str, *, at: datetime) -> HttpResponse:
    """On to the page that walks, under an address that opens nothing by itself."""
    page = f"{reverse('inspections:capture')}?hire={walker.subject_id}"
    response = HttpResponse(status=303, headers={"Location": page})
    put_cookie(response, walker, token, at=at)
    return response


# The page's no-referrer policy leaves a browser's POST without an origin to compare, and the address itself is the secret
# that another site does not have.
@csrf_exempt
@through_a_link("GET", "POST", rights=ON_SITE)
def link_open(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    """Open the pre-start on this phone. The same person again on a phone that is open keeps what it has. Loaded again without
    its form, it is the hire's page."""
    if request.method == "GET" and request.resolver_match:
        return redirect("hire:customer_page", request.resolver_match.kwargs["token"])
    at, form = timezone.now(), NameOnSiteForm(request.POST)
    if form.is_valid():
        name = plain_name(form.cleaned_data["name"])
        known = known_walker(request, link.line_id, at=at)
        is_theirs = known and known.over_at is None and not known.is_collecting
        if known and is_theirs and known.name.casefold() == name.casefold():
            return _to_the_pre_start(known, token_in(request, link.line_id), at=at)
        try:
            walker, token = site.open_through_link(link=link, name=name, at=at)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            return _to_the_pre_start(walker, token, at=at)
    context = customer_context(request, link, at=at, form=form)
    return render(request, "hire/customer_page.html", context, status=422)


@login_not_required
@sensitive_post_parameters("code")
@require_http_methods(["GET", "POST"])
def plate_open(request: HttpRequest, code: str) -> HttpResponse:
    """Open the pre-start on the phone of whoever stands at the plate and has the site code. Loaded again without its form, it
    is the plate."""
    if request.method == "GET":
        return redirect("fleet:plate", code)
    at, form, status = timezone.now(), PlateForm(request.POST), 422
    if form.is_valid():
        typed = form.cleaned_data
        try:
            walker, token = site.open_with_code(
                plate_code=code, code=typed["code"], name=typed["name"], address=address_of(request), at=at
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
            status = 429 if isinstance(refusal, site.TooManyTries) else 422
        else:
            return _to_the_pre_start(walker, token, at=at)
    return plate_page(request, code, form, status=status)


@require_POST
@for_roles(DESK)
def site_code_make(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """Make a hire's site code and show it, on this answer and never again: it is kept as a hash alone."""
    line = line_asked(line_id)
    try:
        _, code = site.make_site_code(line=line, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return redirect("hire:line_detail", line_id)
    context = {
        "page_title": f"Site code for {line.cart.fleet_number}",
        "line": line,
        "code": site.printed(code),
        "address": plate_address(reverse("fleet:plate", args=[line.cart.plate_code])),
    }
    return render(request, "hire/site_code.html", context)


@require_POST
@for_roles(DESK)
def site_walker_end(request: HttpRequest, walker_id: UUID) -> HttpResponse:
    walker = get_object_or_404(SiteWalker, pk=walker_id)
    site.end_site_walker(walker=walker, by=staff_of(request), at=timezone.now())
    messages.success(request, f"The pre-start is closed on {walker.name}’s phone.")
    return redirect("hire:line_detail", walker.subject_id)
