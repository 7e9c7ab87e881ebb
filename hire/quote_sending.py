"""Sending a quote, by the worker: what the letter says, its file with it, and what became of it."""

from __future__ import annotations

from datetime import datetime
from smtplib import SMTPRecipientsRefused
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage

from fleet.photos import store
from hire.letter_sending import NotReady
from hire.models.quotes import QuoteLetter
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.say import say


def letter_words(letter: QuoteLetter) -> str:
    """The words of the letter."""
    quote = letter.quote
    yard = quote.body["yard"]
    what = quote.body["cart"].get("fleet_number") or "a cart chosen later"
    where = f" for {quote.place_of_work}" if quote.place_of_work else ""
    return (
        f"{letter.to_name},\n\nwith this letter is our quote {quote.number} of {what}{where}: {quote.total:,.2f} with tax. "
        f"It stands until {quote.valid_until:%-d %B %Y}.\n\n"
        f"No cart is kept by a quote: ring or write, and we make the hire agreement of it.\n\n"
        f"{yard['name']}, {yard['contact']}\n"
    )


def _mail(letter: QuoteLetter) -> None:
    quote, host = letter.quote, urlsplit(settings.PUBLIC_ADDRESS).hostname or "slake.invalid"
    mail = EmailMessage(
        f"Quote {quote.number}, {quote.body['yard']['name']}".replace("\n", " "), say(letter_words(letter)),
        settings.DEFAULT_FROM_EMAIL, [letter.to_address], headers={"Message-ID": f"<{letter.pk}@{host}>"},
    )  # fmt: skip
    with store.open(quote.file.stored_name) as file:
        mail.attach(f"{quote.number}.pdf", file.read(), "application/pdf")
    mail.send()


def send_quote(letter_id: UUID, at: datetime) -> None:
    """Outbox work. Run twice it sends once. An address the mail server refuses is a letter that came back; anything else it may
    do is raised, and the letter tried again. NotReady."""
    rows = QuoteLetter.objects.select_related("quote__file", "quote__cart")
    letter = rows.get(pk=letter_id)
    if letter.sent_at is not None or letter.came_back_at is not None:
        return
    if not settings.MAIL_IS_SET:
        raise NotReady("There is no mail server set.")
    if not hasattr(letter.quote, "file"):
        raise NotReady(f"{letter.quote.number} has no file yet.")
    try:
        _mail(letter)
    except SMTPRecipientsRefused as error:
        code, said = next(iter(error.recipients.values()), (0, b""))
        words = f"The mail server refused the address: {code} {said.decode(errors='replace')}"[:240]
        letter.came_back_at, letter.came_back_words = at, words
        letter.save(update_fields=["came_back_at", "came_back_words"])
        _write(Event.QUOTE_CAME_BACK, letter, at=at, by_words="The mail server", words=words)
        return
    letter.sent_at, letter.file_sha256 = at, letter.quote.file.sha256
    letter.save(update_fields=["sent_at", "file_sha256"])
    _write(Event.QUOTE_SENT, letter, at=at, by_words="The letter worker", sha256=letter.file_sha256)


def _write(event: Event, letter: QuoteLetter, *, at: datetime, by_words: str, **more: str) -> None:
    quote = letter.quote
    write_journal(
        event=event, subject=("quote", quote.pk),
        chains=[*([cart_chain(quote.cart_id)] if quote.cart_id else []), YARD], by=None, by_words=by_words, at=at,
        facts={"number": quote.number, "to": letter.to_name, "address": letter.to_address} | more,
    )  # fmt: skip
