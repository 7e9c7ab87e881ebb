"""The PDF of a quote, made once by a worker and kept by its own hash."""

from __future__ import annotations

import hashlib
from datetime import datetime
from uuid import UUID

from django.template.loader import render_to_string

from fleet.photos import store
from hire.models.quotes import Quote, QuoteFile
from inspections.certificates.render import render_sheet


def quote_html(quote: Quote) -> str:
    return render_to_string("hire/quote_sheet.html", {"quote": quote})


def make_quote_file(quote_id: UUID, at: datetime) -> None:
    """Outbox work. Run twice it does nothing the second time."""
    quote = Quote.objects.select_related("made_by").get(pk=quote_id)
    if QuoteFile.objects.filter(quote=quote).exists():
        return
    pdf = render_sheet(quote_html(quote), name=quote.number)
    QuoteFile(
        quote=quote, sha256=hashlib.sha256(pdf).hexdigest(), stored_name=store.put(pdf, ".pdf"), made_at=at
    ).save(force_insert=True)
