"""What wet hire says of a cart: whether its operator may take it, and what of theirs lapses while out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time, timedelta
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Blocker, Caution, Record, Window
from fleet.sentences import moment_words
from hire.models.operators import TURN_SHIFTS, OperatorTurn, Ticket
from hire.operator_fitness import KINDS
from hire.wet_reading import Wet, lacks, tickets_of, wets_of
from people.roles import DESK
from people.yard import at_local

NONE = "operator.none"
CODES = frozenset({NONE, *(f"operator.{kind}" for kind in KINDS)})
PUT_WORDS = "Hire desk: put an operator with the cart"
RENEW_WORDS = "Hire desk: record the renewed paper, or put another operator with the cart"
Finding = Blocker | Caution


def wet_findings(
    carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime
) -> Iterator[tuple[UUID, Finding]]:
    """By cart id. Four queries at most, however many carts; none where nobody asks for a hire. Nothing of it may be passed."""
    asked = {line_id: cart.pk for cart in carts if (line_id := windows[cart.pk].line_id) is not None}
    if not asked:
        return
    wets = wets_of(asked)
    tickets = tickets_of({turn.operator_id for wet in wets.values() for turn in wet.turns}) if wets else {}
    for line_id, wet in wets.items():
        window = windows[asked[line_id]]
        for finding in line_findings(wet, tickets, window, at):
            yield asked[line_id], finding


def line_findings(
    wet: Wet, tickets: Mapping[UUID, Sequence[Ticket]], window: Window, at: datetime
) -> Iterator[Finding]:
    """What stands in the way of one wet hire for a window; tickets by operator id."""
    # A cart that leaves a little early goes with the operator of its hire.
    start = max(window.start, min(wet.line.promised.lower, window.end - timedelta(minutes=1)))
    for shift in wet.line.agreement.shifts:
        turns = [turn for turn in wet.turns if turn.shift == shift and turn.period.upper > start]
        yield from _uncovered(wet, turns, shift, (start, window), at)
        for turn in turns:
            if turn.period.lower < window.end:
                yield from _of_turn(wet, turn, tickets.get(turn.operator_id, ()), start, window)


def _uncovered(
    wet: Wet, turns: Sequence[OperatorTurn], shift: int, asked: tuple[datetime, Window], at: datetime
) -> Iterator[Finding]:
    """The first time for which nobody is put down."""
    start, window = asked
    record, until = Record("hire_line", wet.line.pk), start
    for turn in turns:
        if turn.period.lower > until:
            break
        until = max(until, turn.period.upper)
    if until >= window.end:
        return
    on_shift = "" if wet.line.agreement.shift == "day" else f" for the {dict(TURN_SHIFTS)[shift].lower()}"
    if until > start:
        sentence = f"Nobody is put down to drive it{on_shift} from {moment_words(until, at=at)}."
        yield Caution(NONE, sentence, record, until, "it has no operator")
    elif window.start > at:
        sentence = f"Wet hire, and no operator is chosen{on_shift}."
        yield Caution(NONE, sentence, record, window.start, "an operator is to be chosen")
    else:
        sentence = f"Wet hire, and no operator is put down{on_shift}."
        yield Blocker(NONE, sentence, record, DESK, PUT_WORDS, weight=10)


def _of_turn(
    wet: Wet, turn: OperatorTurn, tickets: Sequence[Ticket], start: datetime, window: Window
) -> Iterator[Finding]:
    record = Record("hire_line", wet.line.pk)
    begins, ends = max(start, turn.period.lower), min(window.end, turn.period.upper)
    for gap in lacks(turn.operator, tickets, wet.asks, start=begins, end=ends):
        code, short = f"operator.{gap.kind}", f"the operator’s {KINDS[gap.kind]} lapses"
        if gap.last_day is not None:
            due_at = at_local(gap.last_day + timedelta(days=1), time.min)
            yield Caution(code, gap.sentence, record, due_at, short)
        elif turn.period.lower > start:
            yield Caution(
                code, gap.sentence, record, turn.period.lower, f"the next operator lacks a {KINDS[gap.kind]}"
            )
        else:
            yield Blocker(code, gap.sentence, record, DESK, RENEW_WORDS, weight=10)
