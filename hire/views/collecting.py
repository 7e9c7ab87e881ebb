"""A driver who collects a cart: the desk gives them a link, and their phone does the gate-out check and leaves with it."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from fleet.actions.photos import Outsider
from hire.actions import collecting
from hire.actions.gate_given import Given
from hire.actions.site import TooManyTries, count_link_try
from hire.collection import stands_words, verdict
from hire.collection_forms import CollectionLinkForm, LeaveForm
from hire.models.links import CollectionLink
from hire.papers import accept_words
from hire.views.asked import line_asked, of_a_hire
from hire.views.links import kept_close, nothing_opens, through
from hire.views.sides import sides_taken_in
from inspections.models import SiteWalker
from inspections.site_cookie import known_walker, put_cookie
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.yard import yard_policy

LEAVES = "I leave with this cart, its certificate and the condition written here."


@require_http_methods(["GET", "POST"])
@for_roles(collecting.MAY_GIVE)
def collection_link_make(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """Give a driver the link to collect the cart, and show it, on this answer and never again: it is kept as a hash alone."""
    line, form = line_asked(line_id), CollectionLinkForm(request.POST or None)
    title = f"Give a driver the link to collect {line.cart.fleet_number}"
    if request.method == "POST" and form.is_valid():
        try:
            link, token = collecting.make_collection_link(
                line=line, **form.cleaned_data, by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            address = request.build_absolute_uri(reverse("hire:collection_link", args=[token]))
            context = {"page_title": title, "line": line, "link": link, "address": address}
            return render(request, "hire/collection_given.html", context)
    hours = int(yard_policy().collection_link_good.total_seconds() // 3600)
    context = {"page_title": title, "line": line, "form": form, "hours": hours}
    status = 422 if request.method == "POST" else 200
    return render(request, "hire/collection_give.html", context, status=status)


@require_POST
@for_roles(collecting.MAY_GIVE)
def collection_link_end(request: HttpRequest, link_id: UUID) -> HttpResponse:
    link = get_object_or_404(CollectionLink, pk=link_id)
    collecting.end_collection_link(link=link, by=staff_of(request), at=timezone.now())
    messages.success(request, f"The link of {link.name} opens nothing any more.")
    return redirect("hire:line_detail", link.line_id)


def _opens(*, token: str, at: datetime) -> CollectionLink | None:
    link = collecting.open_collection_link(token=token, at=at)
    return of_a_hire(link) if link else None


def _page(
    request: HttpRequest,
    link: CollectionLink,
    *,
    at: datetime,
    form: LeaveForm | None = None,
    refusal: str = "",
    status: int = 200,
) -> HttpResponse:
    """Which cart and where it stands, the number to ring, and how it stands at the gate. form: with which the driver leaves;
    None on the page of the link itself, which opens the check."""
    judged = verdict(link.line, at=at)
    is_customers = link.is_of_the_customer
    context = {
        "page_title": f"Collect {link.cart.fleet_number}",
        "link": link,
        "line": link.line,
        "cart": link.cart,
        "stands": stands_words(link.cart),
        "on_call": settings.YARD_ON_CALL,
        "judged": judged,
        # Only the customer accepts limits.
        "may_go": judged.may_leave and (is_customers or not judged.limits),
        "form": form,
        "refusal": refusal,
        "statement": accept_words(bool(judged.limits)) if is_customers else LEAVES,
        "check": f"{reverse('inspections:capture')}?hire={link.line_id}",
    }
    return render(request, "hire/collection.html", context, status=status)


# As for the pre-start: the page's no-referrer policy leaves no origin to compare, and the address itself is the secret.
@csrf_exempt
@through(_opens, "GET", "HEAD", "POST")
def collection_link(request: HttpRequest, link: CollectionLink) -> HttpResponse:
    """What the link opens; pressed, the gate-out check on this phone. The same phone again keeps what it has."""
    at = timezone.now()
    if request.method != "POST":
        return _page(request, link, at=at)
    response = HttpResponse(
        status=303, headers={"Location": f"{reverse('inspections:capture')}?hire={link.line_id}"}
    )
    known = known_walker(request, link.line_id, at=at)
    if known is not None and known.opened_through == link.pk and known.over_at is None:
        return response
    try:
        count_link_try("collect", link, at=at)
        walker, token = collecting.open_gate_out(link=link, at=at)
    except Refusal as refusal:
        status = 429 if isinstance(refusal, TooManyTries) else 422
        return _page(request, link, at=at, refusal=refusal.sentence, status=status)
    put_cookie(response, walker, token, at=at)
    return response


def _given(form: LeaveForm, link: CollectionLink) -> Given:
    typed = form.cleaned_data
    drawn = typed["strokes"] not in ("", "[]")
    return Given(
        mode="signed",
        place_words=(link.cart.where_words or link.cart.home_yard or "The yard")[:120],
        keys_words=f"With the driver, {link.name}"[:80],
        condition_words=typed["condition_words"],
        items_words="",
        fuel_eighths=typed["fuel_eighths"],
        taken_by_name=typed["signed_name"],
        signature_kind="drawn" if drawn else "typed",
        strokes=typed["strokes"] if drawn else "",
        limits_accepted=typed["limits_accepted"],
        sides=form.side_photos(),
    )


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def collection(request: HttpRequest, line_id: UUID) -> HttpResponseBase:
    """The gate on the driver's phone, known by its cookie: whether the cart may leave, and leaving with it. The address opens
    nothing by itself, so a browser may name it to the yard, and a form is told from another site's."""
    at = timezone.now()
    walker = known_walker(request, line_id, at=at)
    link = collecting.link_of_phone(walker=walker, at=at)
    if link is None or walker is None:
        return kept_close(nothing_opens(request))
    return kept_close(_at_the_gate(request, of_a_hire(link), walker, at=at), referrer="same-origin")


def _at_the_gate(
    request: HttpRequest, link: CollectionLink, walker: SiteWalker, *, at: datetime
) -> HttpResponse:
    if request.method != "POST":
        return _page(request, link, at=at, form=LeaveForm())
    data = request.POST.copy()
    try:
        count_link_try("leave", link, at=at)
    except TooManyTries as refusal:
        return _page(request, link, at=at, form=LeaveForm(data), refusal=refusal.sentence, status=429)
    told = sides_taken_in(request, data, by=Outsider(walker.pk, walker.words), at=at)
    form, refused = LeaveForm(data), ""
    for field, sentence in told:
        form.add_error(field, sentence)
    if form.is_valid():
        try:
            done = collecting.leave_with(link=link, given=_given(form, link), at=at)
        except Refusal as no:
            if no.field in form.fields:
                form.add_error(no.field, no.sentence)
            else:
                refused = no.sentence
        else:
            has_left = {"page_title": f"{link.cart.fleet_number} has left", "link": link, "done": done}
            return render(request, "hire/collected.html", has_left | {"on_call": settings.YARD_ON_CALL})
    return _page(request, link, at=at, form=form, refusal=refused, status=422)
