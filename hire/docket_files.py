"""The PDF of a hire docket, made once by a worker and kept by its own hash."""

from __future__ import annotations

import hashlib
from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.template.loader import render_to_string

from fleet.photos import store
from hire.models.money import Docket, DocketFile
from inspections.certificates.render import render_sheet
from people.clock import shown_by


def docket_html(docket: Docket) -> str:
    context = {
        "docket": docket, "line": docket.line, "yard_name": settings.YARD_NAME, "yard_address": settings.YARD_ADDRESS,
        "yard_contact": settings.YARD_CONTACT,
    }  # fmt: skip
    with shown_by(docket.line.agreement.zone):
        return render_to_string("hire/docket_paper.html", context)


def make_docket_file(docket_id: UUID, at: datetime) -> None:
    """Outbox work. Run twice it does nothing the second time."""
    docket = Docket.objects.select_related("line__agreement__customer", "line__cart", "made_by").get(
        pk=docket_id
    )
    if DocketFile.objects.filter(docket=docket).exists():
        return
    pdf = render_sheet(docket_html(docket), name=docket.number)
    DocketFile(
        docket=docket, sha256=hashlib.sha256(pdf).hexdigest(), stored_name=store.put(pdf, ".pdf"), made_at=at
    ).save(force_insert=True)
