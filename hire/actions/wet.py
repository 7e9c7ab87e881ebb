"""Which operator goes with a cart on wet hire, and when."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.sentences import moment_words
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.models.operators import KINDS_WANTED, Operator, OperatorTurn, WetHire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.say import say


class NotWet(Refusal):
    """The cart goes without an operator of ours, or the hire is over."""


class OperatorTaken(Refusal):
    """The operator is with another cart, or the shift has its operator; the sentence says which."""

    field = "operator"


class OutsideTheHire(Refusal):
    """The operator's time lies outside the hire."""

    field = "starts_at"


class HasDockets(Refusal):
    """Daily dockets were made: the hire was wet."""


class TurnOver(Refusal):
    """The operator is off this hire already."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk puts operators with carts.")


def _locked(line: Line) -> Line:
    line = Line.objects.locked(line.pk)
    if line.cancelled_at is not None or line.back_at is not None:
        raise NotWet(f"The hire of {line.cart.fleet_number} on {line.agreement.number} is over.")
    return line


def _write(event: Event, line: Line, facts: Mapping[str, object], *, by: Staff | None, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number, "cart": line.cart.fleet_number} | dict(facts),
    )  # fmt: skip


@transaction.atomic
def set_wet(*, line: Line, wants: Collection[str], by: Staff, at: datetime) -> WetHire:
    """The cart goes with an operator; wants: what the site asks of them beside the licence. NotAllowed; NotWet."""
    _check(by)
    line = _locked(line)
    wet = _wet(line, wants, by=by, at=at)
    _write(Event.WET_SET, line, {"wants": wet.wants}, by=by, at=at)
    return wet


def _wet(line: Line, wants: Collection[str], *, by: Staff, at: datetime) -> WetHire:
    wet = WetHire.objects.filter(line=line).first() or WetHire(line=line)
    wet.wants = [kind for kind in KINDS_WANTED if kind in wants]
    wet.set_at, wet.set_by = at, by
    wet.save()
    return wet


def go_wet(
    line: Line, wants: Collection[str], operator: Operator | None, *, by: Staff, at: datetime
) -> dict[str, object]:
    """A new line is wet from the first, with an operator for all of it, on the first of its shifts, where one is chosen. Called
    inside the action that makes it, which writes what this returns into its journal entry. OperatorTaken."""
    wet = _wet(line, wants, by=by, at=at)
    if operator is None:
        return {"wants": wet.wants}
    turn = _put(line, operator, line.agreement.shifts[0], line.promised, by=by, at=at)
    return {"wants": wet.wants, "operator": str(turn.operator)}


@transaction.atomic
def set_dry(*, line: Line, by: Staff, at: datetime) -> None:
    """The cart goes without an operator after all; who was put down is free. NotAllowed; NotWet; HasDockets."""
    _check(by)
    line = _locked(line)
    if DailyDocket.objects.filter(line=line).exists():
        raise HasDockets(
            f"{line.cart.fleet_number} has daily dockets on {line.agreement.number}: it is wet hire."
        )
    if WetHire.objects.filter(line=line).delete()[0]:
        end_turns(line, why="The cart goes without an operator", at=at)
        _write(Event.DRY_SET, line, {}, by=by, at=at)


@transaction.atomic
def put_operator(
    *, line: Line, operator: Operator, shift: int = 1, starts_at: datetime, ends_at: datetime, by: Staff, at: datetime
) -> OperatorTurn:  # fmt: skip
    """Put an operator with the cart of a wet hire. NotAllowed; NotWet; OutsideTheHire; OperatorTaken."""
    _check(by)
    line = _locked(line)
    if not WetHire.objects.filter(line=line).exists():
        raise NotWet(f"{line.cart.fleet_number} goes dry on {line.agreement.number}. Make it wet hire first.")
    if ends_at <= starts_at:
        raise OutsideTheHire("The operator’s time ends before it starts. Correct one of the two.")
    if starts_at < line.promised.lower or (ends_at > line.promised.upper and not line.is_out):
        raise OutsideTheHire(
            f"The hire runs from {moment_words(line.promised.lower, at=at)} to {moment_words(line.promised.upper, at=at)}. "
            "Keep the operator’s time inside it."
        )
    turn = _put(line, operator, shift, DateTimeTZRange(starts_at, ends_at), by=by, at=at)
    facts = {"operator": str(turn.operator), "shift": shift, "starts_at": starts_at, "ends_at": ends_at}
    _write(Event.OPERATOR_PUT, line, facts, by=by, at=at)
    return turn


def _put(
    line: Line, operator: Operator, shift: int, period: DateTimeTZRange, *, by: Staff, at: datetime
) -> OperatorTurn:
    # Desks take turns at an operator: two inserts that exclude each other would deadlock.
    operator = Operator.objects.select_for_update(of=("self",)).select_related("staff").get(pk=operator.pk)
    if operator.ended_at is not None:
        raise OperatorTaken(f"{operator} is out of the book. Choose another operator.")
    turn = OperatorTurn(
        line=line, operator=operator, shift=shift, period=period, made_at=at, made_by=by
    )  # fmt: skip
    if taken := taken_sentence(turn, at=at):
        raise OperatorTaken(taken)
    try:
        with transaction.atomic():
            turn.save(force_insert=True)
    except IntegrityError as error:
        raise OperatorTaken(
            taken_sentence(turn, at=at) or f"{operator} was put with another cart this very moment."
        ) from error
    return turn


def taken_sentence(turn: OperatorTurn, *, at: datetime) -> str:
    """Why this turn cannot be, naming the other hire; "" when it can."""
    others = (
        OperatorTurn.objects.standing().filter(period__overlap=turn.period).exclude(pk=turn.pk).for_list()
    )
    if other := others.filter(operator=turn.operator).first():
        return (
            f"{turn.operator} is with {other.line.cart.fleet_number} on {other.line.agreement.number}, "
            f"{other.line.agreement.customer.name}, {moment_words(other.period.lower, at=at)} to "
            f"{moment_words(other.period.upper, at=at)}. Choose another operator or time."
        )
    if other := others.filter(line=turn.line, shift=turn.shift).first():
        return (
            f"{other.operator} is with {turn.line.cart.fleet_number} on the {turn.get_shift_display().lower()}, "
            f"{moment_words(other.period.lower, at=at)} to {moment_words(other.period.upper, at=at)}. Take them off first."
        )
    return ""


@transaction.atomic
def take_off(*, turn: OperatorTurn, why: str, by: Staff, at: datetime) -> OperatorTurn:
    """Take an operator off a hire from now on. NotAllowed; NotWet; TurnOver."""
    _check(by)
    line = _locked(turn.line)
    turn = OperatorTurn.objects.select_for_update(of=("self",)).for_list().get(pk=turn.pk)
    if turn.cancelled_at is not None or turn.period.upper <= at:
        raise TurnOver(f"{turn.operator} is off this hire already.")
    _end(turn, why=why, at=at)
    _write(Event.OPERATOR_TAKEN_OFF, line, {"operator": str(turn.operator), "why": why}, by=by, at=at)
    return turn


def _end(turn: OperatorTurn, *, why: str, at: datetime) -> None:
    """What was worked stays; what was not begun is cancelled."""
    if turn.period.lower < at:
        turn.period = DateTimeTZRange(turn.period.lower, at)
        turn.save(update_fields=["period"])
    else:
        turn.cancelled_at, turn.cancelled_why = at, say(why, most=240)
        turn.save(update_fields=["cancelled_at", "cancelled_why"])


def _standing(line: Line, *, at: datetime) -> list[OperatorTurn]:
    """The turns of a line that are not over, their operators locked in one order, as put_operator locks one."""
    ids = OperatorTurn.objects.to_come(at=at).filter(line=line).values("operator")
    list(Operator.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk"))
    return list(OperatorTurn.objects.to_come(at=at).filter(line=line).for_list().order_by("period", "shift"))


def end_turns(line: Line, *, why: str, at: datetime) -> list[tuple[UUID, datetime, datetime]]:
    """The hire is over for its operators. Called inside the action that ends it, which writes the journal: each turn ended, with
    the period it had."""
    turns = _standing(line, at=at)
    had = [(turn.pk, turn.period.lower, turn.period.upper) for turn in turns]
    for turn in turns:
        _end(turn, why=why, at=at)
    return had


def resume_turns(had: Iterable[tuple[UUID, datetime, datetime]]) -> list[OperatorTurn]:
    """The hire is not over after all: turns have the period again that end_turns took from them, and those that cannot are given
    back, their operator or their shift being taken by now. Called inside the action that resumes it."""
    periods = {pk: DateTimeTZRange(lower, upper) for pk, lower, upper in had}
    taken = []
    for turn in (
        OperatorTurn.objects.select_for_update(of=("self",)).filter(pk__in=periods).for_list().order_by("pk")
    ):
        turn.period, turn.cancelled_at, turn.cancelled_why = periods[turn.pk], None, ""
        try:
            with transaction.atomic():
                turn.save(update_fields=["period", "cancelled_at", "cancelled_why"])
        except IntegrityError:
            taken.append(turn)
    return taken


def follow_period(line: Line, before: DateTimeTZRange, *, at: datetime) -> None:
    """A hire's period was changed: an operator who was there to its end is there to its new end, unless with another cart by
    then; nobody is put down outside it. Called inside the action that changes it."""
    for turn in _standing(line, at=at):
        lower, upper = turn.period.lower, turn.period.upper
        lower = line.promised.lower if lower == before.lower else max(lower, line.promised.lower)
        upper = line.promised.upper if upper == before.upper else min(upper, line.promised.upper)
        if upper <= max(lower, at):
            _end(turn, why="The hire’s period was changed", at=at)
            continue
        old, turn.period = turn.period, DateTimeTZRange(lower, upper)
        try:
            with transaction.atomic():
                turn.save(update_fields=["period"])
        except IntegrityError:
            # With another cart by then: as far as it went before, so far as the hire still goes.
            turn.period = DateTimeTZRange(max(lower, old.lower), min(upper, old.upper))
            if turn.period.upper > turn.period.lower:
                turn.save(update_fields=["period"])
            else:
                turn.period = old
                _end(turn, why="The hire’s period was changed", at=at)


def follow_swap(line: Line, new: Line, *, by: Staff, at: datetime) -> None:
    """The cart was swapped: the new line is wet too, and its operators go on with the new cart. Called inside the swap."""
    wet = WetHire.objects.filter(line=line).first()
    if wet is None:
        return
    WetHire(line=new, wants=wet.wants, set_at=at, set_by=by).save(force_insert=True)
    since = new.promised.lower
    # From the instant of the swap, which may be a little before it is written down.
    for turn in _standing(line, at=since):
        lower, upper = max(turn.period.lower, since), turn.period.upper
        _end(turn, why="The cart was swapped", at=since)
        OperatorTurn(
            line=new, operator=turn.operator, shift=turn.shift, period=DateTimeTZRange(lower, upper), made_at=at, made_by=by
        ).save(force_insert=True)  # fmt: skip
