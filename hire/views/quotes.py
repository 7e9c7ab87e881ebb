"""Quotes: written of an offer to a caller, a pencilled cart or a booking; found again, sent, and saved as a file."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models.carts import Cart
from fleet.photos import store
from hire import quote_tables
from hire.actions import quotes
from hire.enquiry_forms import EnquiryForm
from hire.models.bookings import Booking
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.quote_facts import Asked, card_asked, of_booking, of_pencil
from hire.quote_forms import QuoteForm, QuoteLetterForm
from hire.quote_rows import letter_rows, quote_state
from hire.quote_words import NOT_INCLUDED, NOT_INCLUDED_WET
from hire.terms_text import rates_text
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_day, yard_policy

STATES = [("standing", "Standing"), ("out", "Run out"), ("taken", "Became a hire or booking"), ("all", "All")]


def _asked(query: QueryDict, *, at: datetime) -> Asked | None:
    """What a quote is to be written of; none where the address does not say it."""
    if pencil := Pencil.objects.standing_by(query.get("pencil", ""), at=at):
        return of_pencil(pencil)
    if booking := _booking(query.get("booking", "")):
        return of_booking(booking)
    form = EnquiryForm(query)
    if not form.is_valid():
        return None
    typed = form.cleaned_data
    return Asked(form.enquiry(), _cart(query.get("cart", "")), typed["customer"], typed["place_of_work"])


def _booking(text: str) -> Booking | None:
    with suppress(ValueError):
        return Booking.objects.open().for_list().filter(pk=UUID(text)).first()
    return None


def _cart(text: str) -> Cart | None:
    with suppress(ValueError):
        return Cart.objects.filter(pk=UUID(text), retired_on=None).first()
    return None


def _begin(asked: Asked, *, at: datetime) -> dict[str, Any]:
    """What the form begins with: the card's terms, and who asks. Never the rule."""
    card, whom = card_asked(asked), asked.customer
    found: dict[str, Any] = (
        dict(card.body) | {"rates": rates_text(card.terms("best rate").rates)} if card else {}
    )
    found |= {
        "form_id": uuid4(),
        "valid_until": yard_day(at) + timedelta(days=yard_policy().quote_days),
        "not_included": NOT_INCLUDED_WET if asked.enquiry.is_wet else NOT_INCLUDED,
    }
    if whom:
        found |= {"to_name": whom.contact_name, "phone": whom.phone, "email": whom.email}
    elif asked.pencil:
        found |= {"to_name": asked.pencil.caller_words, "phone": asked.pencil.phone}
    return found


def _back(request: HttpRequest, asked: Asked) -> dict[str, str]:
    if asked.pencil or asked.booking:
        return {"back_url": reverse("hire:line_list"), "back_label": "the day sheet"}
    answer = f"{reverse('hire:enquiry')}?{request.GET.urlencode()}"
    return {"back_url": answer, "back_label": "the carts for the caller"}


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def quote_add(request: HttpRequest) -> HttpResponse:
    """A quote of what the address says was asked. "Show the price" reckons it and keeps nothing."""
    at, found = timezone.now(), None
    asked = _asked(request.GET, at=at)
    if asked is None:
        messages.error(
            request, "Say first what the caller asks: the quote is written of a cart in the answer."
        )
        return redirect("hire:enquiry")
    form = QuoteForm(request.POST or None, initial=_begin(asked, at=at), is_wet=asked.enquiry.is_wet)
    if request.method == "POST" and form.is_valid():
        try:
            if "look" in request.POST:
                found = quotes.reckon(asked, form.cleaned_data, rule=form.cleaned_data["rule"])[2]
            else:
                quote = quotes.write_quote(
                    form_id=form.cleaned_data["form_id"], asked=asked, to=form.recipient(), offer=form.offer(),
                    send=form.cleaned_data["send"], by=staff_of(request), at=at,
                )  # fmt: skip
                messages.success(request, f"{quote.number} is written; its file follows in a moment.")
                return redirect("hire:quote_detail", quote.pk)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    context: dict[str, Any] = {
        "page_title": f"Write a quote for {asked.cart_words if asked.cart else 'a cart chosen later'}",
        "form": form,
        "asked": asked,
        "found": found,
        "evidence": {},
        "card": card_asked(asked),
        **_back(request, asked),
    }
    return render(request, "hire/quote_form.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(DESK)
def quote_list(request: HttpRequest) -> HttpResponse:
    """Quotes, the newest first; ?state=out|taken|all, ?q= a number, a caller, a customer, a cart or a place."""
    on, state = yard_day(timezone.now()), request.GET.get("state", "standing")
    state = state if state in dict(STATES) else "standing"
    words = request.GET.get("q", "").replace("\x00", "").strip()
    found = _narrowed(state, words, on=on)
    if wants_csv(request):
        return csv_response("quotes", quote_tables.QUOTE_HEAD, quote_tables.quote_table(found, on=on))
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    context = {
        "page_title": "Quotes", "states": STATES, "state": state, "words": words, "page": page,
        "rows": [(quote, quote_state(quote, on=on)) for quote in page],
    }  # fmt: skip
    return render(request, "hire/quote_list.html", context)


def _narrowed(state: str, words: str, *, on: date) -> QuerySet[Quote]:
    found = Quote.objects.for_list()
    if state == "taken":
        found = found.filter(taken__isnull=False).distinct()
    elif state != "all":
        found = found.filter(taken=None)
        found = found.filter(valid_until__lt=on) if state == "out" else found.filter(valid_until__gte=on)
    if words:
        found = found.filter(
            Q(number__icontains=words)
            | Q(to_name__icontains=words)
            | Q(customer__name__icontains=words)
            | Q(cart__fleet_number__icontains=words)
            | Q(place_of_work__icontains=words)
        )
    return found.order_by("-made_at", "-number")


def _quote(quote_id: UUID) -> Quote:
    return get_object_or_404(Quote.objects.for_list(), pk=quote_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def quote_detail(request: HttpRequest, quote_id: UUID) -> HttpResponse:
    """One quote as its paper, what became of it, and its letters; a post sends it by email."""
    at, quote = timezone.now(), _quote(quote_id)
    form = QuoteLetterForm(
        request.POST if request.method == "POST" else None,
        initial={"to_name": quote.to_name, "email": quote.email},
    )
    if request.method == "POST" and form.is_valid():
        try:
            letter = quotes.send_quote_again(quote=quote, to=form.recipient(), by=staff_of(request), at=at)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{quote.number} goes to {letter.to_address} in a moment.")
            return redirect("hire:quote_detail", quote.pk)
    if wants_csv(request):
        return csv_response(quote.number, quote_tables.LINE_HEAD, quote_tables.line_table(quote))
    context = {
        "page_title": f"Quote {quote.number}",
        "quote": quote,
        "state": quote_state(quote, on=yard_day(at)),
        "has_run_out": quote.has_run_out(on=yard_day(at)),
        "pencil_stands": quote.pencil is not None
        and Pencil.objects.standing(at=at).filter(pk=quote.pencil.pk).exists(),
        "booking_is_open": quote.booking is not None and quote.booking.ended_at is None,
        "letters": letter_rows(quote),
        "form": form,
    }
    return render(request, "hire/quote_detail.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(DESK)
def quote_file(request: HttpRequest, quote_id: UUID) -> HttpResponseBase:
    quote = _quote(quote_id)
    if not hasattr(quote, "file"):
        raise Http404
    return FileResponse(
        store.open(quote.file.stored_name), as_attachment=True, filename=f"{quote.number}.pdf",
        content_type="application/pdf",
    )  # fmt: skip
