"""The site pack: made, sent, and answered by the site."""

from __future__ import annotations

from datetime import datetime

from django.db import connection, transaction

from hire.models.agreements import Line
from hire.models.packs import PackAnswer, PackSending, SitePack
from hire.pack_content import pack_body, used_on
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.say import say_all
from people.yard import yard_day

NUMBER_LOCK = 7_245_311


class HireEnded(Refusal):
    """The hire is cancelled or over: no site waits for its papers."""


class NotThatTime(Refusal):
    """The time given is before the pack was made, or to come."""


class NeverSent(Refusal):
    """A site cannot answer what was not sent to it."""


class WhyWanted(Refusal):
    """A pack that is sent back says why."""

    field = "why"


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk makes site packs and writes down what became of them.")


def _next_number(at: datetime) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    year = yard_day(at).year
    last = SitePack.objects.filter(number__startswith=f"P{year}-").order_by("-number").first()
    return f"P{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def _write(event: Event, pack: SitePack, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("hire_line", pack.line_id),
        chains=[cart_chain(pack.line.cart_id), YARD],
        by=by,
        at=at,
        facts={"agreement": pack.line.agreement.number, "pack": pack.number} | facts,
    )


@transaction.atomic
def make_pack(*, line: Line, by: Staff, at: datetime) -> SitePack:
    """Freeze the papers of a hire's cart as they stand into a numbered pack; a worker makes its file. NotAllowed; HireEnded."""
    _check(by)
    number = _next_number(at)
    line = Line.objects.locked(line.pk)
    if line.cancelled_at is not None or line.back_at is not None:
        raise HireEnded(
            f"The hire of {line.cart.fleet_number} on {line.agreement.number} is over. No pack is made for it."
        )
    pack = SitePack(
        line=line,
        number=number,
        used_on=used_on(line, at=at),
        body=say_all(pack_body(line, at=at), but=("id",)),
        made_at=at,
        made_by=by,
    )
    pack.save(force_insert=True)
    enqueue(kind="hire.pack_file", subject_id=pack.pk, at=at)
    _write(Event.PACK_MADE, pack, by=by, at=at, missing=pack.body["missing"])
    return pack


def _check_time(pack: SitePack, moment: datetime, *, at: datetime, field: str) -> None:
    if moment < pack.made_at.replace(second=0, microsecond=0) or moment > at:
        raise NotThatTime(
            f"{pack.number} was made before that or that is still to come. Correct the time.", field=field
        )


@transaction.atomic
def record_sent(
    *, pack: SitePack, sent_at: datetime, to_words: str, how: str, by: Staff, at: datetime
) -> PackSending:
    """Write down that a pack was sent. NotAllowed; NotThatTime."""
    _check(by)
    _check_time(pack, sent_at, at=at, field="sent_at")
    row = PackSending(pack=pack, sent_at=sent_at, to_words=to_words, how=how, recorded_at=at, by=by)
    row.save(force_insert=True)
    _write(Event.PACK_SENT, pack, by=by, at=at, sent_at=sent_at, to=to_words, how=how)
    return row


@transaction.atomic
def record_answer(
    *,
    pack: SitePack,
    answered_at: datetime,
    answer: str,
    why: str,
    told_by_words: str,
    by: Staff,
    at: datetime,
) -> PackAnswer:
    """Write down what a site said of a pack: "accepted", or "back" with why. NotAllowed; NeverSent; NotThatTime; WhyWanted."""
    _check(by)
    if not pack.sendings.exists():
        raise NeverSent(f"{pack.number} is not written down as sent. Write that down first.")
    _check_time(pack, answered_at, at=at, field="answered_at")
    if answer == "back" and not why.strip():
        raise WhyWanted("Say why they sent it back, so that the next one is right.")
    row = PackAnswer(
        pack=pack, answered_at=answered_at, answer=answer, why=why, told_by_words=told_by_words, recorded_at=at, by=by
    )  # fmt: skip
    row.save(force_insert=True)
    _write(Event.PACK_ANSWERED, pack, by=by, at=at, answer=answer, why=why, told_by=told_by_words)
    return row
