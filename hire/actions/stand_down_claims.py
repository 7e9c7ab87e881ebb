"""Days claimed as stood down: by the desk for the customer, by the customer's link, or for a breakdown; answered by the yard."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from fleet.models.defects import Defect
from hire.actions.site import count_link_try
from hire.actions.stand_downs import (
    AlreadyStoodDown,
    StoodDown,
    WordsWanted,
    check_desk,
    check_free,
    check_not_given_up,
    check_unsettled,
    keep_day,
    line_out_on,
    write_of_day,
)
from hire.charging.money import day_words
from hire.models.agreements import Line, StandDown
from hire.models.links import CustomerLink
from hire.models.stand_downs import ClaimAnswer, StandDownClaim
from hire.owed_facts import hours_of
from hire.shifts import hours_left
from hire.swaps import lock_hire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal

ONE_DAY = timedelta(days=1)


class AnsweredAlready(Refusal):
    """The yard has agreed the claim, or refused it."""


def _claim(
    line: Line, claim: StandDownClaim, told: StoodDown, *, by: Staff | None, by_words: str = "", at: datetime
) -> StandDownClaim:
    """Keep a claim of a day, under the lock of its hire. AlreadyStoodDown."""
    if line.stand_down_claims.open().filter(on=claim.on).exists():
        raise AlreadyStoodDown(
            f"{day_words(claim.on)} of {line.cart.fleet_number} is claimed already, and the yard has not answered yet."
        )
    check_free(line, claim.on)
    claim.line, claim.made_at, claim.made_by = line, at, by
    claim.nth = line.stand_down_claims.filter(on=claim.on).count() + 1
    for name, value in vars(told).items():
        setattr(claim, name, value)
    claim.save(force_insert=True)
    write_journal(
        event=Event.STAND_DOWN_CLAIMED, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by,
        by_words=by_words, at=at,
        facts={
            "on": claim.on, "kind": claim.kind, "why": claim.why, "told_by": claim.told_by_words,
            "defect": claim.defect_id,
        } | vars(told),
    )  # fmt: skip
    return claim


def _claimable(line: Line, on: date, *, by: Staff | None, at: datetime) -> Line:
    """The line that was out on that day, its hire locked. AlreadyStoodDown; HireSettled; GivenUpAlready."""
    lines = lock_hire(line)
    if on > line.agreement.day(at) + ONE_DAY:
        raise AlreadyStoodDown(f"{day_words(on)} is too far ahead. Claim a day from the day before it on.")
    line = line_out_on(line, lines, on)
    check_unsettled(lines)
    check_not_given_up(line, lines, on, by=by)
    return line


@transaction.atomic
def claim_stand_down(
    *, line: Line, on: date, why: str, told_by_words: str, kind: str = "rain", facts: StoodDown | None = None, by: Staff,
    at: datetime,
) -> StandDownClaim:  # fmt: skip
    """Write down that the customer claims a day. It changes nothing until it is agreed. NotAllowed; AlreadyStoodDown; HireSettled;
    GivenUpAlready; ToldLater."""
    check_desk(by)
    told = (facts or StoodDown()).at_the_latest(at)
    line = _claimable(line, on, by=by, at=at)
    claim = StandDownClaim(on=on, kind=kind, why=why, told_by_words=told_by_words)
    return _claim(line, claim, told, by=by, at=at)


def claim_by_link(
    *, link: CustomerLink, on: date, kind: str, why: str, name: str, worked_hours: Decimal | None = None,
    lost_hours: Decimal | None = None, at: datetime,
) -> StandDownClaim:  # fmt: skip
    """The customer's person claims a day, told at this moment. TooManyTries; AlreadyStoodDown; HireSettled; GivenUpAlready."""
    count_link_try("stand-down", link, at=at)
    told = StoodDown(told_at=at, worked_hours=worked_hours, lost_hours=lost_hours)
    return _claim_by_link(link, StandDownClaim(on=on, kind=kind, why=why, told_by_words=name), told, at=at)


@transaction.atomic
def _claim_by_link(
    link: CustomerLink, claim: StandDownClaim, told: StoodDown, *, at: datetime
) -> StandDownClaim:
    line = _claimable(link.line, claim.on, by=None, at=at)
    claim.link = link
    return _claim(
        line, claim, told, by=None, by_words=f"{claim.told_by_words}, by the link for {link.for_words}", at=at
    )


def propose_breakdown(
    *, line: Line, link: CustomerLink, defect: Defect, words: str, by_words: str, at: datetime
) -> StandDownClaim | None:
    """What a breakdown reported by the customer's link claims of its day, for the yard to decide: the hours from the notice to the
    end of that day's work, or the whole day where it came before. None where the day is stood down or claimed already. Called
    inside the report, which holds the line."""
    on, about = line.agreement.day(at), line.agreement
    left = hours_left(at, on, hours_of(about.time_zone, about.shifts_a_day, is_night=about.is_night))
    told = StoodDown(
        told_at=at, lost_hours=None if left is None else _tenths(left), customer_words=words[:240]
    )
    claim = StandDownClaim(
        on=on,
        kind="breakdown",
        why=words[:120],
        told_by_words=by_words[:120],
        link=link,
        defect=defect,
    )
    try:
        return _claim(line, claim, told, by=None, by_words=by_words, at=at)
    except AlreadyStoodDown:
        return None


def _tenths(span: timedelta) -> Decimal:
    """Hours to the tenth, halves up."""
    return Decimal((span + timedelta(minutes=3)) // timedelta(minutes=6)) / 10


def _open(claim: StandDownClaim, *, by: Staff) -> tuple[Line, list[Line]]:
    """The claim's line and its hire, locked, once it is sure that nobody has answered. NotAllowed; AnsweredAlready."""
    check_desk(by)
    lines = lock_hire(claim.line)
    line = Line.objects.for_list().get(pk=claim.line_id)
    if answer := ClaimAnswer.objects.filter(claim=claim).select_related("made_by").first():
        how = "refused" if answer.stand_down_id is None else "agreed"
        raise AnsweredAlready(
            f"{day_words(claim.on)} of {line.cart.fleet_number} was {how} by {answer.made_by.full_name} already."
        )
    return line, lines


@transaction.atomic
def agree_claim(
    *, claim: StandDownClaim, worked_hours: Decimal | None, lost_hours: Decimal | None, cause: str, yard_words: str = "",
    by: Staff, at: datetime,
) -> StandDown:  # fmt: skip
    """Agree a claimed day, with what the yard found of it: it is stood down, told when the claim was. Also once the hire is
    settled: the claim was there before. NotAllowed; AnsweredAlready; AlreadyStoodDown; GivenUpAlready."""
    line, lines = _open(claim, by=by)
    found: dict[str, Any] = {
        "worked_hours": worked_hours,
        "lost_hours": lost_hours,
        "cause": cause,
        "yard_words": yard_words,
    }
    row = StandDown(
        on=claim.on, kind=claim.kind, why=claim.why, told_at=claim.told_at, told_by_words=claim.told_by_words,
        customer_words=claim.customer_words, made_at=at, made_by=by, **found,
    )  # fmt: skip
    keep_day(line, lines, row, by=by)
    ClaimAnswer(claim=claim, stand_down=row, words=yard_words, made_at=at, made_by=by).save(force_insert=True)
    write_of_day(Event.CLAIM_AGREED, line, claim.on, by=by, at=at, kind=claim.kind, **found)
    return row


@transaction.atomic
def refuse_claim(*, claim: StandDownClaim, why: str, by: Staff, at: datetime) -> ClaimAnswer:
    """Refuse a claimed day, with words the customer reads. NotAllowed; WordsWanted; AnsweredAlready."""
    line, _ = _open(claim, by=by)
    if not why.strip():
        raise WordsWanted("Say why the day is refused; the customer reads it.")
    answer = ClaimAnswer(claim=claim, words=why, made_at=at, made_by=by)
    answer.save(force_insert=True)
    write_of_day(Event.CLAIM_REFUSED, line, claim.on, by=by, at=at, kind=claim.kind, why=why)
    return answer
