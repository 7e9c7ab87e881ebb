"""What was said of a lapsed pre-start, told to the yard or written by the customer's supervisor."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from hire.actions.site import count_link_try
from hire.lapsed import Lapsed, lapsed_of
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.said import PreStartSaid
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class NotLapsed(Refusal):
    """The hire has no lapsed pre-start for that shift: it was signed, stood down, or never owed."""

    field = "shift"


class NotSaidThen(Refusal):
    """The time given is before the shift began, or to come."""

    field = "said_at"


def _shift(line: Line, key: str, *, at: datetime) -> Lapsed:
    for one in lapsed_of([line], at=at)[line.pk]:
        if one.key == key:
            return one
    raise NotLapsed(
        f"{line.cart.fleet_number} owes no pre-start for that shift any more. Look at the list again."
    )


def _keep(row: PreStartSaid, line: Line, *, by: Staff | None, by_words: str, at: datetime) -> PreStartSaid:
    row.save(force_insert=True)
    write_journal(
        event=Event.PRE_START_SAID,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        by_words=by_words,
        at=at,
        facts={
            "agreement": line.agreement.number, "shift_on": row.shift_on, "shift": row.shift_words, "said_by": row.said_by_words,
            "words": row.words,
        },
    )  # fmt: skip
    return row


@transaction.atomic
def record_said(
    *, line: Line, shift: str, said_at: datetime, said_by_words: str, words: str, by: Staff, at: datetime
) -> PreStartSaid:
    """Write down what the yard was told of a lapsed pre-start. shift: a Lapsed.key. NotAllowed; NotLapsed; NotSaidThen."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down what was said of a pre-start.")
    line = Line.objects.locked(line.pk)
    lapsed = _shift(line, shift, at=at)
    if not lapsed.shift.starts_at <= said_at <= at:
        raise NotSaidThen("That is before the shift began, or still to come. Correct the time.")
    row = PreStartSaid(
        line=line, shift_on=lapsed.shift.on, shift_words=lapsed.shift.words, said_at=said_at, said_by_words=said_by_words,
        words=words, recorded_at=at, recorded_by=by,
    )  # fmt: skip
    return _keep(row, line, by=by, by_words="", at=at)


def say_by_link(*, link: CustomerLink, shift: str, name: str, words: str, at: datetime) -> PreStartSaid:
    """Write down what the customer's supervisor says of a lapsed pre-start. TooManyTries; NotLapsed."""
    count_link_try("pre-start said", link, at=at)
    return _say_by_link(link, shift, name, words, at=at)


@transaction.atomic
def _say_by_link(link: CustomerLink, shift: str, name: str, words: str, *, at: datetime) -> PreStartSaid:
    line = Line.objects.locked(link.line_id)
    lapsed = _shift(line, shift, at=at)
    row = PreStartSaid(
        line=line, shift_on=lapsed.shift.on, shift_words=lapsed.shift.words, said_at=at, said_by_words=name, words=words,
        recorded_at=at, link=link,
    )  # fmt: skip
    return _keep(row, line, by=None, by_words=f"{name}, by the link for {link.for_words}", at=at)
