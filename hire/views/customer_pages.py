"""What a customer sees through a link, without an account: this hire and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from typing import Concatenate, ParamSpec
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.readiness import readiness
from fleet.sentences import readiness_sentence
from hire.actions import gate, links
from hire.models import CustomerLink
from hire.promises import window_of
from inspections.certificates.actions import sealed_bytes
from inspections.certificates.models import Certificate

P = ParamSpec("P")


def through_a_link(
    view: Callable[Concatenate[HttpRequest, CustomerLink, P], HttpResponseBase],
) -> Callable[..., HttpResponseBase]:
    """Opens the link or says 404: unknown, expired and ended look the same. Nothing here is cached, sent on as a
    referrer or indexed."""

    @login_not_required
    @require_safe
    @wraps(view)
    def opened(request: HttpRequest, /, token: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
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


def _papers(link: CustomerLink) -> list[Certificate]:
    papers = Certificate.objects.filter(subject_kind="hire_line", subject_id=link.line_id)
    return list(papers.select_related("file", "withdrawal", "replaced_by").order_by("-issued_at"))


@through_a_link
def customer_page(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    at, line = timezone.now(), link.line
    window = window_of(line) if line.promised.lower > at else gate.gate_window(line, at=at)
    answer = readiness(line.cart, window=window, at=at)
    context = {
        "page_title": f"{line.cart.fleet_number}, {line.agreement.number}",
        "link": link,
        "line": line,
        "token": request.resolver_match.kwargs["token"] if request.resolver_match else "",
        "papers": _papers(link),
        "valid": gate.valid_certificate(line),
        "answer": answer,
        "sentence": readiness_sentence(answer),
        "on_call": settings.YARD_ON_CALL,
        "contact": settings.YARD_CONTACT,
    }
    return render(request, "hire/customer_page.html", context)


@through_a_link
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
