"""Ready rows for the hire screens: a finding with its record's address and who can clear it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeVar

from fleet.board import answers_for
from fleet.gear import GEAR
from fleet.readiness import Blocker, Caution, Readiness
from fleet.records import record_url
from fleet.sentences import clock_words, moment_words, past_words, readiness_sentence
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.off_hire import FailedPickUp, OffHire
from hire.suiting import asked_words

Finding = TypeVar("Finding", Blocker, Caution)


@dataclass(frozen=True)
class StopRow:
    """One thing that stops a cart: shape, what, who clears it, where its record is."""

    shape: str
    what: str
    how: str
    url: str
    label: str


@dataclass(frozen=True)
class LineRow:
    """One hire of the day sheet; state and sentence: whether its cart may go, "" while another hire comes before it."""

    line: Line
    state: str
    sentence: str


def line_rows(lines: Sequence[Line], *, at: datetime) -> list[LineRow]:
    """Hires that have not left, each with its cart's right to go, in a constant number of queries."""
    answers = {
        need.record_id: answer
        for need, answer in answers_for([line.cart for line in lines], at=at).values()
        if need is not None
    }
    rows = []
    for line in lines:
        answer = answers.get(line.pk)
        rows.append(
            LineRow(line, answer.state if answer else "", readiness_sentence(answer) if answer else "")
        )
    return rows


@dataclass(frozen=True)
class BookingRow:
    """A booking whose cart is not chosen, with what is asked of one, in words."""

    booking: Booking
    asked: str


def booking_rows(bookings: Iterable[Booking]) -> list[BookingRow]:
    return [BookingRow(one, asked_words(one.enquiry(), names=GEAR)) for one in bookings]


@dataclass(frozen=True)
class OffHiredRow:
    """A cart off hire that is not back; charge: what the call does to the charge; state: whether it is still on site; answers:
    until when the hirer answers for damage, "" where it was not asked for or not agreed."""

    off_hire: OffHire
    charge: str
    state: str
    failed: Sequence[FailedPickUp]
    answers: str = ""


def charge_words(off_hire: OffHire, *, at: datetime) -> str:
    """What the call does to the charge, as the customer is told it."""
    stops, called = off_hire.stops_at, off_hire.called_at
    has_stopped = off_hire.has_stopped(at=at)
    when = past_words(stops, at=at) if has_stopped else moment_words(stops, at=at)
    if off_hire.replaced_by_id:
        return f"Its charge stopped with the swap, {when}."
    if stops == called:
        return f"The charge stopped with the call, {when}."
    verb = "stopped" if has_stopped else "stops"
    zone = off_hire.line.agreement.zone
    if called.astimezone(zone).time() < stops.astimezone(zone).time():
        return f"Called on a day the yard is closed: the charge {verb} {when}."
    return f"Called after the yard’s cut-off at {clock_words(stops)}: the charge {verb} {when}."


def off_hired_row(off_hire: OffHire, *, at: datetime, answers: str = "") -> OffHiredRow:
    """An off-hire with its failed pick-ups loaded."""
    left, back_by = off_hire.left_site_at, off_hire.line.kept_until
    state = f"Left the site {past_words(left, at=at)}." if left else "Off-hired, awaiting pick-up."
    if back_by and off_hire.line.is_out:
        state = f"{state} To be in the yard by {moment_words(back_by, at=at)}."
    failed = list(off_hire.failed_pick_ups.all())
    return OffHiredRow(off_hire, charge_words(off_hire, at=at), state, failed, answers)


ELSEWHERE = "The cart is not free yet; the yard sorts that out, or sends another."
NOT_POTABLE = "Its tank is not fit for drinking water; the yard sorts that out, or sends another."


def for_customer(answer: Readiness, *, is_out: bool) -> Readiness:
    """The answer as a customer is told it: what other hires have to do with it, and what the tank carried on them, is said without
    whose they are; and other hires' claims not at all of a cart they have, which those keep from no work."""

    def told(findings: Iterable[Finding]) -> tuple[Finding, ...]:
        others = ("hire.overlap", "hire.out")
        said = dict.fromkeys(others, ELSEWHERE) | {"water.potable": NOT_POTABLE}
        return tuple(
            replace(one, sentence=said.get(one.code, one.sentence))
            for one in findings
            if not (is_out and one.code in others)
        )

    return replace(answer, blockers=told(answer.blockers), cautions=told(answer.cautions))


def stop_rows(answer: Readiness) -> list[StopRow]:
    return [
        StopRow(
            "stop",
            blocker.sentence,
            f"{blocker.clear_words}.",
            record_url(blocker.record.kind, blocker.record.id),
            "Open its record",
        )
        for blocker in answer.blockers
    ]


def caution_rows(answer: Readiness) -> list[StopRow]:
    return [
        StopRow(
            "caution",
            caution.sentence,
            "",
            record_url(caution.record.kind, caution.record.id),
            "Open its record",
        )
        for caution in answer.cautions
    ]
