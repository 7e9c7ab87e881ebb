"""Until when the hirer answers for a cart that was called off, and whether it left the site later than that. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from fleet.models.defects import Defect
from fleet.sentences import clock_words
from hire.back_findings import signed_of
from hire.back_terms import BackTerms, back_terms_from
from hire.charge_facts import terms_of
from hire.charge_stop import risk_ends_at, risk_words
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from inspections.models import WalkRound
from people.clock import shown_day


@dataclass(frozen=True)
class Late:
    """A cart that left its site when damage was no longer the hirer's. gone_at: when it left, or, where nobody wrote that down,
    when it was seen in the yard."""

    hours: int
    ends_at: datetime
    gone_at: datetime
    is_leaving_known: bool

    @property
    def ends(self) -> str:
        return _when(self.ends_at)

    @property
    def words(self) -> str:
        """By the clock that is shown."""
        no_longer = (
            f"damage was no longer the hirer’s from {self.ends} on, {self.hours} h after the off-hire call"
        )
        if self.is_leaving_known:
            return f"It left the site {_when(self.gone_at)}, and {no_longer}."
        return f"When it left the site was not written down. It was in the yard {_when(self.gone_at)}, and {no_longer}."


def _when(moment: datetime) -> str:
    """A day and a time, "Tue 1 Dec 10.21 am", which read the same whenever they are read."""
    day = shown_day(moment)
    return f"{day:%a} {day.day} {day:%b} {clock_words(moment)}"


def back_terms_of(line: Line) -> BackTerms:
    """What was agreed of damage, fuel, washing and call-outs; nothing, where no rate is agreed."""
    agreed = terms_of(line)
    return back_terms_from(agreed.body) if agreed else BackTerms()


def late_of(line: Line, walks: Mapping[str, WalkRound]) -> Late | None:
    """What there is to say where it left later than damage was the hirer's; None: it left by then, nobody called, or pick-up alone
    ends it. walks: by purpose, of its return."""
    call, hours = line.off_hires.standing().first(), back_terms_of(line).risk_hours
    if call is None or hours is None:
        return None
    seen = line.back_at or (walks["as_returned"].signed_at if "as_returned" in walks else None)
    gone_at, ends_at = call.left_site_at or seen, risk_ends_at(call.called_at, hours=hours)
    if gone_at is None or gone_at <= ends_at:
        return None
    return Late(hours, ends_at, gone_at, call.left_site_at is not None)


def told_later(defects: Iterable[Defect], late: Late) -> set[UUID]:
    """Those that nobody had told while damage was still the hirer's. One query."""
    rows = list(defects)
    signed = signed_of(rows)
    return {row.pk for row in rows if min(row.told_at, signed.get(row.source_id, row.told_at)) > late.ends_at}


def risk_agreed(line: Line) -> str:
    """Who holds the risk until pick-up, as the off-hire call proposes to write it down."""
    return f"The customer, {risk_words(back_terms_of(line).risk_hours)}"


def answers_words(call: OffHire, *, at: datetime, to_customer: bool = False) -> str:
    """Until when the hirer answers for a cart that is called off; "" where the terms say nothing of it."""
    terms = back_terms_of(call.line)
    if not terms.says_risk:
        return ""
    who, gone_at = "You" if to_customer else "The customer", call.left_site_at or call.line.back_at
    ends_at = risk_ends_at(call.called_at, hours=terms.risk_hours) if terms.risk_hours else None
    if ends_at and (gone_at or at) > ends_at:
        return f"{who} answered for it until {_when(ends_at)}, {terms.risk_hours} h after the call."
    if gone_at:
        ended = "it was picked up" if call.left_site_at else "it was back in the yard"
        return f"{who} answered for it until {ended}, {_when(gone_at)}."
    verb = "answer" if to_customer else "answers"
    return (
        f"{who} {verb} for it until it is picked up{f', at the latest {_when(ends_at)}' if ends_at else ''}."
    )
