"""Sending one letter, by the worker: what it says, and what became of it."""

from __future__ import annotations

from datetime import datetime
from smtplib import SMTPRecipientsRefused
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage
from django.urls import reverse

from hire.actions.letters import came_back, token_of
from hire.models.contacts import Letter
from hire.models.packs import PackSending
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.say import say


class NotReady(Exception):
    """The paper has no file yet, or there is no mail server now: the outbox asks again."""


def _file_sha256(letter: Letter) -> str:
    paper = letter.certificate or letter.pack
    if paper is None or not hasattr(paper, "file"):
        raise NotReady(f"{letter.paper_number} has no file yet.")
    return str(paper.file.sha256)


def _needless(letter: Letter) -> str:
    """Why a letter is not to be sent any more, or ""."""
    if letter.link.revoked_at is not None:
        return "Not sent: its link was ended before."
    paper = letter.certificate
    if paper is not None and hasattr(paper, "withdrawal"):
        return "Not sent: the certificate was withdrawn before."
    if paper is not None and hasattr(paper, "replaced_by"):
        return f"Not sent: {paper.replaced_by.number} took its place before."
    return ""


def body_of(letter: Letter, sha256: str) -> str:
    """The words of a letter."""
    line, number = letter.line, letter.paper_number
    what = "pre-hire certificate" if letter.certificate else "site pack"
    page = settings.PUBLIC_ADDRESS + reverse("hire:customer_page", args=[token_of(letter.pk)])
    proof = (
        f"Whether it still stands: {settings.PUBLIC_ADDRESS}/v/{letter.certificate.code}/\n"
        if letter.certificate
        else ""
    )
    return (
        f"{letter.to_name},\n\nthe {what} {number} of {line.cart.fleet_number} is ready, for {line.agreement.place_of_work}, hire "
        f"{line.agreement.number}.\n\nThe page of this hire, with the file to save: {page}\n"
        f"The link is yours alone and opens this hire without an account. Do not pass it on.\n\n"
        f"The file’s SHA-256: {sha256}\n{proof}\n"
        f"{settings.YARD_NAME}, {settings.YARD_CONTACT}\nBroken down? Ring {settings.YARD_ON_CALL}\n"
    )


def _mail(letter: Letter, sha256: str) -> None:
    host = urlsplit(settings.PUBLIC_ADDRESS).hostname or "slake.invalid"
    EmailMessage(
        say(
            f"{letter.paper_number}, {letter.line.cart.fleet_number} for {letter.line.agreement.place_of_work}"
        ).replace("\n", " "),
        say(body_of(letter, sha256)),
        settings.DEFAULT_FROM_EMAIL,
        [letter.to_address],
        headers={"Message-ID": f"<{letter.pk}@{host}>"},
    ).send()


def send_letter(letter_id: UUID, at: datetime) -> None:
    """Outbox work. Run twice it sends once. An address the mail server refuses is a letter that came back; anything else it may
    do is raised, and the letter tried again. NotReady."""
    letter = Letter.objects.select_related(
        "line__cart", "line__agreement", "link", "certificate__file", "certificate__withdrawal", "certificate__replaced_by",
        "pack__file",
    ).get(pk=letter_id)  # fmt: skip
    if letter.sent_at is not None or letter.came_back_at is not None:
        return
    if words := _needless(letter):
        letter.settled_at = at
        letter.save(update_fields=["settled_at"])
        came_back(letter, words, by=None, at=at)
        return
    if not settings.MAIL_IS_SET:
        raise NotReady("There is no mail server set.")
    sha256 = _file_sha256(letter)
    try:
        _mail(letter, sha256)
    except SMTPRecipientsRefused as error:
        code, said = next(iter(error.recipients.values()), (0, b""))
        came_back(
            letter,
            f"The mail server refused the address: {code} {said.decode(errors='replace')}",
            by=None,
            at=at,
        )
        return
    _sent(letter, sha256, at=at)


def _sent(letter: Letter, sha256: str, *, at: datetime) -> None:
    letter.sent_at, letter.file_sha256 = at, sha256
    letter.save(update_fields=["sent_at", "file_sha256"])
    if letter.pack is not None and letter.made_by_id is not None:
        to = f"{letter.to_name}, {letter.to_address}"[:160]
        PackSending(
            pack=letter.pack, sent_at=at, to_words=to, how="email", recorded_at=at, by_id=letter.made_by_id
        ).save(force_insert=True)
    write_journal(
        event=Event.LETTER_SENT,
        subject=("hire_line", letter.line_id),
        chains=[cart_chain(letter.line.cart_id)],
        by=None,
        by_words="The letter worker",
        at=at,
        facts={
            "letter": letter.pk, "paper": letter.paper_number, "to": letter.to_name, "address": letter.to_address, "sha256": sha256,
        },
    )  # fmt: skip
