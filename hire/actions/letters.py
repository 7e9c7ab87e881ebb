"""Certificates and packs by email: a letter and its outbox row in one transaction; the worker sends it once.

The letter's link is made with it. Its token is reckoned from the letter's id with the yard's secret, so that nothing that opens
the link is kept in the table, and a letter tried again carries the same link and the same Message-ID.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.conf import settings
from django.db import transaction
from django.utils.crypto import salted_hmac

from hire.actions.links import new_link
from hire.models.agreements import Line
from hire.models.contacts import Contact, Letter
from hire.models.packs import SitePack
from inspections.certificates.models import Certificate
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

# A letter names its paper's file, which another worker is making: it waits this long before it is looked at.
FILE_TIME = timedelta(seconds=30)


class NoMailServer(Refusal):
    """The yard has no mail server set."""


class NothingToSend(Refusal):
    """The paper is not of this hire, or does not stand; or nobody was chosen."""


class AlreadyBack(Refusal):
    """The letter is written down as come back, or was never sent."""


def token_of(letter_id: UUID) -> str:
    """What opens the letter's link."""
    return salted_hmac("hire.letter", str(letter_id), algorithm="sha256").hexdigest()[:48]


def _letter(
    line: Line, contact: Contact, *, certificate: Certificate | None, pack: SitePack | None, by: Staff | None, at: datetime
) -> Letter:  # fmt: skip
    letter_id = uuid4()
    link = new_link(
        line=line, for_words=contact.name, rights=contact.rights, token=token_of(letter_id), by=by, at=at
    )
    letter = Letter(
        id=letter_id, line=line, contact=contact, to_name=contact.name, to_address=contact.email, certificate=certificate,
        pack=pack, link=link, made_at=at, made_by=by,
    )  # fmt: skip
    letter.save(force_insert=True)
    enqueue(kind="hire.letter", subject_id=letter.pk, at=at + FILE_TIME)
    write_journal(
        event=Event.LETTER_WRITTEN,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        by_words="" if by else "The yard, when the certificate was issued",
        at=at,
        facts={
            "letter": letter.pk,
            "paper": letter.paper_number,
            "to": contact.name,
            "address": contact.email,
        },
    )
    return letter


def write_for_certificate(certificate: Certificate, line: Line, *, at: datetime) -> list[Letter]:
    """Letters to the customer's supervisors who want certificates as they are issued; inside the issue's own transaction. None
    where the yard has no mail server."""
    if not settings.MAIL_IS_SET:
        return []
    contacts = Contact.objects.to_mail().filter(customer=line.agreement.customer_id).order_by("name")
    return [_letter(line, one, certificate=certificate, pack=None, by=None, at=at) for one in contacts]


@transaction.atomic
def send_papers(
    *, line: Line, contacts: Sequence[Contact], certificate: Certificate | None = None, pack: SitePack | None = None, by: Staff,
    at: datetime,
) -> list[Letter]:  # fmt: skip
    """Send a hire's certificate or pack, one of them, to some of its customer's supervisors. NotAllowed; NoMailServer;
    NothingToSend."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk sends papers to customers.")
    if not settings.MAIL_IS_SET:
        raise NoMailServer(
            "This yard has no mail server set, so nothing can be sent. Save the file and send it yourself."
        )
    line = Line.objects.locked(line.pk)
    subject = certificate.subject_id if certificate else pack.line_id if pack else None
    if subject != line.pk:
        raise NothingToSend(f"Choose a paper of {line.agreement.number}.")
    allowed = Contact.objects.current().filter(customer=line.agreement.customer_id).exclude(email="")
    chosen = list(allowed.filter(pk__in=[one.pk for one in contacts], rights="supervisor"))
    if not chosen or len(chosen) != len(contacts):
        raise NothingToSend(
            "Choose at least one supervisor of this customer who has an email address.", field="contacts"
        )
    return [_letter(line, one, certificate=certificate, pack=pack, by=by, at=at) for one in chosen]


@transaction.atomic
def record_came_back(*, letter: Letter, words: str, by: Staff, at: datetime) -> Letter:
    """Write down that a letter came back. NotAllowed; AlreadyBack."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down letters that came back.")
    letter = Letter.objects.select_for_update(of=("self",)).select_related("line").get(pk=letter.pk)
    if letter.sent_at is None or letter.came_back_at is not None:
        raise AlreadyBack(
            f"The letter to {letter.to_name} was not sent, or is written down as come back already."
        )
    return came_back(letter, words, by=by, at=at)


def came_back(letter: Letter, words: str, *, by: Staff | None, at: datetime) -> Letter:
    letter.came_back_at, letter.came_back_words = at, words[:240]
    letter.save(update_fields=["came_back_at", "came_back_words"])
    write_journal(
        event=Event.LETTER_CAME_BACK,
        subject=("hire_line", letter.line_id),
        chains=[cart_chain(letter.line.cart_id)],
        by=by,
        by_words="" if by else "The mail server",
        at=at,
        facts={"letter": letter.pk, "to": letter.to_name, "address": letter.to_address, "words": words[:240]},
    )
    return letter


@transaction.atomic
def settle_letter(*, letter: Letter, by: Staff, at: datetime) -> Letter:
    """Somebody has seen to a letter that came back or could not be sent. NotAllowed."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk sees to letters that came back.")
    letter = Letter.objects.select_for_update(of=("self",)).select_related("line").get(pk=letter.pk)
    if letter.settled_at is None:
        letter.settled_at = at
        letter.save(update_fields=["settled_at"])
        write_journal(
            event=Event.LETTER_SETTLED,
            subject=("hire_line", letter.line_id),
            chains=[cart_chain(letter.line.cart_id)],
            by=by,
            at=at,
            facts={"letter": letter.pk, "to": letter.to_name},
        )
    return letter
