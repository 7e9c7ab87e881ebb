"""Writing a quote, sending it, and a hire or a booking that comes of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import connection, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from hire.actions.letters import FILE_TIME, NoMailServer
from hire.actions.terms import NotChargeable, checked_terms
from hire.charges import Terms
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.money import AgreedTerms
from hire.models.operators import WetHire
from hire.models.quotes import Quote, QuoteLetter, QuoteTaken
from hire.quote_body import Offer, quote_body
from hire.quote_facts import Asked, card_asked, price_asked
from hire.quote_price import Quoted
from hire.shifts import WORKED
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.say import say_all
from people.yard import yard_day

NUMBER_LOCK = 7_245_312


class RunsOutAtOnce(Refusal):
    """A quote stands today at least."""

    field = "valid_until"


class NobodyToSendTo(Refusal):
    """A letter needs an address."""

    field = "email"


class NotAsQuoted(Refusal):
    """The hire is another than the quote was for, so its terms cannot begin as quoted."""


@dataclass(frozen=True)
class Recipient:
    """Whom a quote is for. phone, email: "": not said."""

    name: str
    phone: str = ""
    email: str = ""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes quotes and sends them.")


def _next_number(at: datetime) -> str:
    year = yard_day(at).year
    last = Quote.objects.filter(number__startswith=f"Q{year}-").order_by("-number").first()
    return f"Q{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def reckon(asked: Asked, typed: Mapping[str, Any], *, rule: str) -> tuple[dict[str, Any], Terms, Quoted]:
    """The terms as they are stored, the same read, and what such a quote comes to; nothing is kept. typed: the fields of
    terms_text.FIELDS. NotChargeable for terms that make no sense, and for no rate rule."""
    enquiry = asked.enquiry
    text, terms = checked_terms(
        typed, rule=rule, shifts=len(WORKED[enquiry.shift]), is_wet=enquiry.is_wet, cart=asked.cart_words
    )
    try:
        return text, terms, price_asked(asked, terms, text)
    except ValueError as error:
        raise NotChargeable(str(error), field="rates") from error


@transaction.atomic
def write_quote(
    *, form_id: UUID, asked: Asked, to: Recipient, offer: Offer, send: bool = False, by: Staff, at: datetime
) -> Quote:
    """Write a quote of what was asked, by the terms the desk chose; frozen from then on, its file follows. form_id: of the form it
    was written with; the same again returns the quote there is. send: by email too, to its address.

    NotAllowed; NotChargeable for terms that make no sense, and no rate rule; RunsOutAtOnce; NobodyToSendTo; NoMailServer.
    """
    _check(by)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    if there := Quote.objects.filter(form_id=form_id).first():
        return there
    if offer.valid_until < yard_day(at):
        raise RunsOutAtOnce("The quote would have run out already. Give today or a later day.")
    enquiry, card = asked.enquiry, card_asked(asked)
    text, terms, found = reckon(asked, offer.typed, rule=offer.rule)
    quote = Quote(
        number=_next_number(at), form_id=form_id, cart=asked.cart, customer=asked.customer, pencil=asked.pencil,
        booking=asked.booking, card=card, to_name=to.name, phone=to.phone, email=to.email, place_of_work=asked.place_of_work,
        period=DateTimeTZRange(enquiry.start, enquiry.end), is_wet=enquiry.is_wet, shift=enquiry.shift, rule=offer.rule,
        terms=text, net=found.net, tax=found.tax, total=found.total, valid_until=offer.valid_until, made_at=at, made_by=by,
        body=say_all(quote_body(asked, offer, terms=terms, text=text, found=found, card=card)),
    )  # fmt: skip
    quote.save(force_insert=True)
    enqueue(kind="hire.quote_file", subject_id=quote.pk, at=at)
    facts: dict[str, object] = {
        "number": quote.number, "for": to.name, "customer": asked.customer.name if asked.customer else "",
        "cart": asked.cart.fleet_number if asked.cart else "", "rule": offer.rule, "card": card.name if card else "",
        "net": quote.net, "tax": quote.tax, "total": quote.total, "valid_until": quote.valid_until,
    }  # fmt: skip
    if send:
        facts["sent_to"] = _letter(quote, to, by=by, at=at).to_address
    _write(Event.QUOTE_WRITTEN, quote, by=by, at=at, facts=facts)
    return quote


@transaction.atomic
def send_quote_again(*, quote: Quote, to: Recipient, by: Staff, at: datetime) -> QuoteLetter:
    """Send a quote by email, its file with it. NotAllowed; NobodyToSendTo; NoMailServer."""
    _check(by)
    letter = _letter(quote, to, by=by, at=at)
    facts = {"number": quote.number, "to": letter.to_name, "address": letter.to_address}
    _write(Event.QUOTE_LETTER_WRITTEN, quote, by=by, at=at, facts=facts)
    return letter


def _letter(quote: Quote, to: Recipient, *, by: Staff, at: datetime) -> QuoteLetter:
    if not to.email:
        raise NobodyToSendTo("Give the email address the quote is sent to, or write it without sending it.")
    if not settings.MAIL_IS_SET:
        raise NoMailServer(
            "This yard has no mail server set, so nothing can be sent. Save the file and send it yourself.",
            field="send",
        )
    letter = QuoteLetter(quote=quote, to_name=to.name, to_address=to.email, made_at=at, made_by=by)
    letter.save(force_insert=True)
    enqueue(kind="hire.quote_letter", subject_id=letter.pk, at=at + FILE_TIME)
    return letter


def take_quote(line: Line, quote: Quote, *, by: Staff, at: datetime) -> dict[str, object]:
    """A new hire comes of a quote: its terms begin as quoted, by the card of that day. For its journal entry: which quote, and
    whether it had run out. NotAsQuoted for a hire of another customer, wet for dry, or worked by other shifts."""
    about = line.agreement
    _check_as_quoted(quote, WetHire.objects.filter(line=line).exists(), about.shift, about.customer_id)
    QuoteTaken(quote=quote, line=line, taken_at=at, taken_by=by).save(force_insert=True)
    ran_out = quote.has_run_out(on=yard_day(at))
    late = f", which had run out on {quote.valid_until:%-d %b %Y}" if ran_out else ""
    AgreedTerms(
        line=line, rule=quote.rule, body=quote.terms, card_name=quote.body["card"].get("name", ""),
        words=f"As quoted, {quote.number}{late}", agreed_at=at, agreed_by=by,
    ).save(force_insert=True)  # fmt: skip
    return {"quote": quote.number, "rule": quote.rule} | ({"quote_had_run_out": True} if ran_out else {})


def book_quote(booking: Booking, quote: Quote, *, by: Staff, at: datetime) -> dict[str, object]:
    """A new booking comes of a quote, and so will its hire. For its journal entry. NotAsQuoted."""
    _check_as_quoted(quote, booking.is_wet, booking.shift, booking.customer_id)
    QuoteTaken(quote=quote, booking=booking, taken_at=at, taken_by=by).save(force_insert=True)
    return {"quote": quote.number}


def _check_as_quoted(quote: Quote, is_wet: bool, shift: str, customer_id: UUID) -> None:  # noqa: FBT001 - a hire's own facts
    if quote.customer is not None and quote.customer_id != customer_id:
        raise NotAsQuoted(
            f"{quote.number} was written for {quote.customer.name}. Choose that customer, or write a quote for this one.",
            field="customer",
        )
    if quote.is_wet != is_wet:
        was = "wet" if quote.is_wet else "dry"
        raise NotAsQuoted(
            f"{quote.number} was for {was} hire. Keep it {was}, or write another quote.", field="goes"
        )
    if quote.shift != shift:
        was = quote.get_shift_display().lower()
        raise NotAsQuoted(
            f"{quote.number} was for work by {was}. Keep it so, or write another quote.", field="shift"
        )


def _write(event: Event, quote: Quote, *, by: Staff, at: datetime, facts: Mapping[str, Any]) -> None:
    chains = [*([cart_chain(quote.cart_id)] if quote.cart_id else []), YARD]
    write_journal(event=event, subject=("quote", quote.pk), chains=chains, by=by, at=at, facts=dict(facts))
