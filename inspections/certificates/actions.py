"""Issuing, sealing and withdrawing papers. Issue gives the number at once; a worker renders and seals the file once."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from datetime import datetime
from io import BytesIO
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, transaction

from fleet.photos import store
from inspections.certificates.content import Paper, from_json
from inspections.certificates.models import Certificate, Counter, SealedFile, Withdrawal
from inspections.certificates.numbers import new_verify_code, paper_number
from inspections.certificates.render import render
from inspections.certificates.seal import seal
from people.journal.actions import YARD, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import Refusal
from people.yard import yard_day


class AlreadyReplaced(Refusal):
    """The paper to be corrected has a successor already; correct that one."""


class AlreadyWithdrawn(Refusal):
    """The paper has been withdrawn already."""


class Numbered:
    """What a paper is told before its content is written: its number, verify code, revision, and what it replaces."""

    def __init__(self, number: str, code: str, revision: int, replaces: Certificate | None, why: str) -> None:
        self.number = number
        self.code = code
        self.revision = revision
        self.replaces = replaces
        self.why = why


def _next_number(at: datetime) -> str:
    """The next number of the year. The counter's row lock lasts until commit, so a roll-back leaves no gap."""
    year = yard_day(at).year
    Counter.objects.get_or_create(year=year)
    counter = Counter.objects.select_for_update().get(year=year)
    counter.last_serial += 1
    counter.save(update_fields=["last_serial"])
    return paper_number(settings.YARD_NUMBER_PREFIX, year, counter.last_serial)


@transaction.atomic
def issue_paper(
    *,
    kind: str,
    subject: tuple[str, UUID],
    write: Callable[[Numbered], Paper],
    lap_svg: str,
    chains: Iterable[str],
    by: Staff | None,
    at: datetime,
    replaces: Certificate | None = None,
    why: str = "",
) -> Certificate:
    """Number a paper, freeze the content that `write` gives for it, and enqueue its sealing.

    `replaces` with `why` makes it the successor of an earlier paper. AlreadyReplaced when that has one.
    """
    # The counter's row stays locked until commit, so what is looked at after it cannot change under us. Papers
    # themselves are sealed rows, which the application's role may not lock.
    number, revision = _next_number(at), 1
    if replaces is not None:
        if Certificate.objects.filter(replaces=replaces).exists():
            raise AlreadyReplaced(f"{replaces.number} was replaced already. Correct the newer paper.")
        revision = replaces.revision + 1
    numbered = Numbered(number, new_verify_code(), revision, replaces, why)
    paper = write(numbered)
    certificate = Certificate(
        number=numbered.number,
        code=numbered.code,
        kind=kind,
        revision=revision,
        subject_kind=subject[0],
        subject_id=subject[1],
        content=paper.canonical().decode(),
        record_sha256=paper.record_sha256,
        lap_svg=lap_svg,
        issued_at=at,
        issued_by=by,
        replaces=replaces,
        replaces_why=why,
    )
    certificate.save(force_insert=True)
    enqueue(kind="certificates.render", subject_id=certificate.pk, at=at)
    write_journal(
        event=Event.CERTIFICATE_ISSUED,
        subject=("certificate", certificate.pk),
        chains=[*chains, YARD],
        by=by,
        at=at,
        facts={
            "number": certificate.number,
            "kind": kind,
            "record_sha256": certificate.record_sha256,
            "replaces": replaces.number if replaces else None,
            "why": why,
        },
    )
    return certificate


def paper_of(certificate: Certificate) -> Paper:
    """The frozen content of a paper."""
    return from_json(json.loads(certificate.content))


def photos_of(paper: Paper) -> dict[str, bytes]:
    """The print-size pictures a paper shows, by their SHA-256. The store is addressed by content, so the hash is the name."""
    names = {photo.print_sha256 for photo in paper.photos}
    return {sha256: store.open(f"photos/{sha256[:2]}/{sha256[2:4]}/{sha256}.jpg").read() for sha256 in names}


def render_and_seal(certificate_id: UUID, at: datetime) -> None:
    """Make a paper's sealed file, once. Run twice it does nothing the second time: the bytes never change."""
    certificate = Certificate.objects.get(pk=certificate_id)
    if SealedFile.objects.filter(certificate=certificate).exists():
        return
    paper = paper_of(certificate)
    pdf = render(paper, photos=photos_of(paper), lap_svg=certificate.lap_svg)
    sealed = seal(pdf, key_file=settings.SEAL_KEY_FILE, cert_file=settings.SEAL_CERT_FILE, at=at)
    name = store.put(sealed.data, ".pdf")
    with transaction.atomic():
        SealedFile(
            certificate=certificate,
            sha256=sealed.sha256,
            size_bytes=len(sealed.data),
            stored_name=name,
            seal_fingerprint=sealed.fingerprint,
            sealed_at=at,
        ).save(force_insert=True)
        write_journal(
            event=Event.CERTIFICATE_SEALED,
            subject=("certificate", certificate.pk),
            by=None,
            by_words="The sealing worker",
            at=at,
            facts={"number": certificate.number, "sha256": sealed.sha256, "fingerprint": sealed.fingerprint},
        )


def sealed_bytes(file: SealedFile) -> BytesIO:
    """The sealed PDF, its bytes checked against the name they are kept under."""
    return store.open(file.stored_name)


@transaction.atomic
def withdraw_paper(
    *, certificate: Certificate, why: str, by: Staff, at: datetime, chains: Iterable[str] = ()
) -> Withdrawal:
    """Withdraw a paper: its bytes stay fetchable, the verify page says withdrawn. AlreadyWithdrawn the second time."""
    withdrawal = Withdrawal(certificate=certificate, at=at, by=by, why=why)
    try:
        with transaction.atomic():
            withdrawal.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyWithdrawn(f"{certificate.number} was withdrawn already.") from error
    write_journal(
        event=Event.CERTIFICATE_WITHDRAWN,
        subject=("certificate", certificate.pk),
        chains=[*chains, YARD],
        by=by,
        at=at,
        facts={"number": certificate.number, "why": why},
    )
    return withdrawal
