"""What became of a quote and of its letters, as their pages and files say it. Reads only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from hire.models.quotes import Quote, QuoteLetter, QuoteTaken
from people.outbox.models import Message


def quote_state(quote: Quote, *, on: date) -> str:
    """In words: "H2026-00041, WC-07" for what it became, or until when it stands. Of a quote read by for_list."""
    if became := [taken_words(one) for one in quote.taken.all()]:
        return f"Became {' and '.join(became)}"
    if quote.has_run_out(on=on):
        return f"Ran out on {quote.valid_until:%-d %b %Y}"
    return f"Stands until {quote.valid_until:%-d %b %Y}"


def quoted_words(quote: Quote | None, *, on: date) -> dict[str, str]:
    """What the form of a promise says of the quote it comes from: its note, and a caution where it has run out."""
    if quote is None:
        return {}
    note = (
        f"As quoted in {quote.number}, {quote.total:,.2f} with tax: its rate and terms are agreed with this."
    )
    late = (
        f"{quote.number} ran out on {quote.valid_until:%-d %b %Y}. Its terms are agreed all the same: write another quote if they "
        "no longer hold."
    )
    return {"note": note, "caution": late if quote.has_run_out(on=on) else ""}


def taken_words(taken: QuoteTaken) -> str:
    if taken.line:
        return f"{taken.line.agreement.number}, {taken.line.cart.fleet_number}"
    assert taken.booking
    return f"a booking of {taken.booking.customer.name}"


@dataclass(frozen=True)
class LetterRow:
    """shape: of a mark; words: what became of it."""

    letter: QuoteLetter
    shape: str
    words: str


def letter_rows(quote: Quote) -> list[LetterRow]:
    """The letters of a quote, the newest first. Two queries."""
    letters = list(quote.letters.select_related("made_by"))
    waiting = Message.objects.filter(
        kind="hire.quote_letter", subject_id__in=[one.pk for one in letters], done_at=None, tries__gt=0
    )
    wrong = {one.subject_id: f"Tried {one.tries} times. {one.last_error[:120]}" for one in waiting}
    return [_row(one, wrong.get(one.pk, "")) for one in letters]


def _row(letter: QuoteLetter, wrong: str) -> LetterRow:
    if letter.came_back_at is not None:
        return LetterRow(letter, "caution", f"Came back: {letter.came_back_words}")
    if letter.sent_at is not None:
        return LetterRow(letter, "safe", f"Sent. File SHA-256 {letter.file_sha256}")
    return LetterRow(letter, "caution" if wrong else "watch", f"Not sent yet. {wrong}".strip())
