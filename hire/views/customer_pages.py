"""What a customer sees through a link, without an account: this hire and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from functools import wraps
from typing import Concatenate, ParamSpec
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db.models import Q
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.forms import NameOnSiteForm
from fleet.readiness import readiness
from fleet.road_fill import paper_words, road_fill
from fleet.sentences import readiness_sentence
from hire import screens
from hire.actions import gate, links
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.links import CustomerLink
from hire.promises import window_of
from hire.swaps import swaps_before
from inspections.certificates.actions import sealed_bytes
from inspections.certificates.models import Certificate
from inspections.models import WalkRound
from people.yard import yard_day

P = ParamSpec("P")
Opened = Callable[..., HttpResponseBase]
# A fortnight of two shifts.
PRE_STARTS_SHOWN = 28


def through_a_link(
    *methods: str,
) -> Callable[[Callable[Concatenate[HttpRequest, CustomerLink, P], HttpResponseBase]], Opened]:
    """Opens the link or says 404: unknown, expired and ended look the same. Nothing here is cached, sent on as a
    referrer or indexed."""

    def guard(view: Callable[Concatenate[HttpRequest, CustomerLink, P], HttpResponseBase]) -> Opened:
        @login_not_required
        @require_http_methods(methods)
        @wraps(view)
        def opened(
            request: HttpRequest, /, token: str, *args: P.args, **kwargs: P.kwargs
        ) -> HttpResponseBase:
            link = links.open_link(token=token, at=timezone.now())
            response: HttpResponseBase | None = None
            if link is not None:
                # What is not this link's is answered like a link that opens nothing, headers and all.
                with suppress(Http404):
                    response = view(request, link, *args, **kwargs)
            if response is None:
                response = render(request, "hire/link_gone.html", {"page_title": "Link not open"}, status=404)
            response["Cache-Control"] = "no-store"
            response["Referrer-Policy"] = "no-referrer"
            response["X-Robots-Tag"] = "noindex, nofollow"
            return response

        return opened

    return guard


def _papers(link: CustomerLink) -> list[Certificate]:
    """The papers of this hire, also of the carts that were swapped on it."""
    lines = [link.line_id, *(swap.line_id for swap in swaps_before(link.line))]
    papers = Certificate.objects.filter(subject_kind="hire_line", subject_id__in=lines)
    return list(papers.select_related("file", "withdrawal", "replaced_by").order_by("-issued_at"))


def _pre_starts(line: Line) -> list[WalkRound]:
    """The pre-starts of this hire, the newest first: those its people signed on site, and the yard's own while it was out."""
    on_site = Q(site_walker__subject_kind="hire_line", site_walker__subject_id=line.pk)
    while_out = Q(site_walker=None, signed_at__gte=line.handed_over_at) if line.handed_over_at else Q()
    if line.back_at:
        while_out &= Q(signed_at__lt=line.back_at)
    whose = on_site | while_out if line.handed_over_at else on_site
    walks = WalkRound.objects.filter(whose, cart=line.cart_id, purpose="daily")
    return list(walks.defer("manifest").order_by("-signed_at")[:PRE_STARTS_SHOWN])


def customer_context(
    request: HttpRequest, link: CustomerLink, *, at: datetime, form: NameOnSiteForm | None = None
) -> dict[str, object]:
    """What a link's page shows; form: the way to the pre-start as it was sent, with what is wrong with it."""
    line = link.line
    window = window_of(line) if line.promised.lower > at else gate.gate_window(line, at=at)
    answer = readiness(line.cart, window=window, at=at)
    call = line.off_hires.standing().for_list().first()
    return {
        "page_title": f"{line.cart.fleet_number}, {line.agreement.number}",
        "link": link,
        "line": line,
        "off_hire": screens.off_hired_row(call, at=at) if call else None,
        "breakdowns": list(Breakdown.objects.filter(line=line)[:5]),
        "photo_refused": request.GET.get("photo") == "refused",
        "swaps": swaps_before(line),
        "token": request.resolver_match.kwargs["token"] if request.resolver_match else "",
        "papers": _papers(link),
        "valid": gate.valid_certificate(line),
        "form": form or NameOnSiteForm(),
        "pre_starts": _pre_starts(line),
        "answer": answer,
        "on_road": paper_words(road_fill(line.cart, on=yard_day(at))),
        "sentence": readiness_sentence(answer),
        "on_call": settings.YARD_ON_CALL,
        "contact": settings.YARD_CONTACT,
    }


@through_a_link("GET", "HEAD")
def customer_page(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    return render(request, "hire/customer_page.html", customer_context(request, link, at=timezone.now()))


@through_a_link("GET", "HEAD")
def customer_file(request: HttpRequest, link: CustomerLink, certificate_id: UUID) -> HttpResponseBase:
    paper = next((paper for paper in _papers(link) if paper.pk == certificate_id), None)
    if paper is None or not hasattr(paper, "file"):
        raise Http404
    return FileResponse(
        sealed_bytes(paper.file),
        as_attachment=True,
        filename=f"{paper.number}.pdf",
        content_type="application/pdf",
    )
