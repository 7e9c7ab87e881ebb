"""What the customer's accounts people see through their link: dockets and charges, and nothing of who drives."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from fleet.photos import store
from hire.charge_facts import charges_to, dockets_of, due_through, terms_of
from hire.models.links import CustomerLink
from hire.models.money import Docket
from hire.rights import WHO_PAY
from hire.swaps import lines_together
from hire.views.links import through_a_link


def accounts_page(request: HttpRequest, link: CustomerLink, *, at: datetime) -> HttpResponse:
    line, lines, found = link.line, lines_together(link.line), None
    agreed = terms_of(line)
    if agreed is not None and lines[0].handed_over_at is not None:
        try:
            found = charges_to(line, agreed, through=due_through(line, at=at))
        except ValueError:
            # What cannot be reckoned is the yard's to put right; the dockets stand.
            found = None
    dockets = dockets_of(lines).select_related("line__cart", "file")
    context: dict[str, object] = {
        "page_title": f"Charges, {line.agreement.number}",
        "line": line,
        "token": request.resolver_match.kwargs["token"] if request.resolver_match else "",
        "found": found,
        # Where the yard keeps what shows a charge is not theirs to open.
        "evidence": {},
        "dockets": dockets.order_by("-made_at")[:60],
        "contact": settings.YARD_CONTACT,
    }
    return render(request, "hire/customer_accounts.html", context)


@through_a_link("GET", "HEAD", rights=WHO_PAY)
def customer_docket(request: HttpRequest, link: CustomerLink, docket_id: UUID) -> HttpResponseBase:
    docket = (
        Docket.objects.filter(pk=docket_id, line__in=lines_together(link.line)).select_related("file").first()
    )
    if docket is None or not hasattr(docket, "file"):
        raise Http404
    return FileResponse(
        store.open(docket.file.stored_name), as_attachment=True, filename=f"{docket.number}.pdf",
        content_type="application/pdf",
    )  # fmt: skip
