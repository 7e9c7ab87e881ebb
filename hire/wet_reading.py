"""Wet hires as they are read: who goes with which cart, and what each operator lacks for it. Reads only, many at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Sum

from fleet.models.carts import AxleGroup
from fleet.sentences import moment_words
from hire.licences import CLASSES, drives, licence_needed
from hire.models.agreements import Line
from hire.models.operators import Operator, OperatorTurn, Ticket, WetHire
from hire.operator_fitness import INDUCTION, KINDS, LICENCE, Gap, Held, gaps
from people.yard import yard_day

MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Wet:
    """A wet hire, its line with cart, agreement and customer loaded; licence: the class its cart asks for."""

    row: WetHire
    licence: str
    turns: tuple[OperatorTurn, ...]

    @property
    def line(self) -> Line:
        return self.row.line


def wets_of(lines: Collection[UUID]) -> dict[UUID, Wet]:
    """Those of these hires that are wet, with their standing turns in order of time, by line id. Three queries at most."""
    rows = list(
        WetHire.objects.filter(line__in=lines).select_related("line__cart", "line__agreement__customer")
    )
    if not rows:
        return {}
    turns: defaultdict[UUID, list[OperatorTurn]] = defaultdict(list)
    wet_lines = [row.line_id for row in rows]
    for turn in (
        OperatorTurn.objects.standing().filter(line__in=wet_lines).for_list().order_by("period", "shift")
    ):
        turns[turn.line_id].append(turn)
    axles = dict(
        AxleGroup.objects.filter(cart__in=[row.line.cart_id for row in rows])
        .values_list("cart_id")
        .annotate(count=Sum("axles"))
        .values_list("cart_id", "count")
    )
    return {row.line_id: Wet(row, _licence(row.line, axles), tuple(turns[row.line_id])) for row in rows}


def _licence(line: Line, axles: dict[UUID, int]) -> str:
    return licence_needed(
        rule_set=line.agreement.rule_set,
        gross_kg=line.cart.gross_limit_kg,
        axles=axles.get(line.cart_id, 3),
    )


def tickets_of(operators: Collection[UUID]) -> dict[UUID, list[Ticket]]:
    """The tickets that count, by operator. One query."""
    found: defaultdict[UUID, list[Ticket]] = defaultdict(list)
    for ticket in Ticket.objects.counting().filter(operator__in=operators):
        found[ticket.operator_id].append(ticket)
    return found


def class_words(code: str, *, rule_set: str) -> str:
    return dict(CLASSES[rule_set]).get(code, code)


def lacks(
    operator: Operator, tickets: Iterable[Ticket], wet: Wet, *, start: datetime, end: datetime
) -> list[Gap]:
    """What an operator lacks to go with this hire's cart from an instant to another."""
    about = wet.line.agreement

    def covers(ticket: Ticket) -> bool:
        if ticket.kind == LICENCE:
            return drives(ticket.licence_class, wet.licence, rule_set=about.rule_set)
        return ticket.kind != INDUCTION or ticket.is_for(about.customer_id, about.place_of_work)

    def asked(kind: str) -> str:
        if kind == LICENCE:
            return f"licence of class {wet.licence} or above"
        if kind == INDUCTION:
            return f"induction for {about.customer.name}, {about.place_of_work}"
        return KINDS[kind]

    held = [
        Held(ticket.kind, ticket.ends_on, ticket.issued_on, covers(ticket), ticket.licence_class)
        for ticket in tickets
    ]
    first, last = yard_day(start), yard_day(max(end - MOMENT, start))
    return gaps(name=operator.own_name, held=held, wants=wet.row.wants, first=first, last=last, asked=asked)


@dataclass(frozen=True)
class Choice:
    """An operator who could go with a cart; words: what stands in the way, "" for nothing."""

    operator: Operator
    words: str


def choices_for(wet: Wet, *, start: datetime, end: datetime, at: datetime) -> list[Choice]:
    """Everybody in the book, those with nothing in the way first. Three queries."""
    operators = list(Operator.objects.working().for_list())
    tickets = tickets_of([one.pk for one in operators])
    busy: dict[UUID, OperatorTurn] = {}
    for turn in OperatorTurn.objects.standing().filter(period__overlap=(start, end)).for_list():
        busy.setdefault(turn.operator_id, turn)
    found = []
    for one in operators:
        said = []
        if other := busy.get(one.pk):
            until = moment_words(other.period.upper, at=at)
            said.append(
                f"With {other.line.cart.fleet_number} on {other.line.agreement.number} until {until}."
            )
        said += [gap.sentence for gap in lacks(one, tickets[one.pk], wet, start=start, end=end)]
        found.append(Choice(one, " ".join(said)))
    return sorted(found, key=lambda choice: bool(choice.words))


def operator_words(turns: Sequence[OperatorTurn], wet: Wet) -> list[str]:
    """Who goes with the cart, with the licence, as the gate shows it and the receipt prints it. One query."""
    tickets, rule_set = tickets_of([turn.operator_id for turn in turns]), wet.line.agreement.rule_set
    said = []
    for turn in turns:
        licences = [ticket for ticket in tickets[turn.operator_id] if ticket.kind == LICENCE]
        fit = [one for one in licences if drives(one.licence_class, wet.licence, rule_set=rule_set)]
        shift = f", {turn.get_shift_display().lower()}" if wet.line.agreement.shifts_a_day > 1 else ""
        words = f"{turn.operator}{shift}"
        if fit:
            best = max(fit, key=lambda one: (one.ends_on is None, one.ends_on))
            until = f", good until {best.ends_on:%-d %b %Y}" if best.ends_on else ""
            words += f", licence {best.licence_class} {best.number}".rstrip() + until
        said.append(words)
    return said


def turns_at(wet: Wet, when: datetime) -> list[OperatorTurn]:
    """Who is put down for an instant; before the hire begins, for its beginning."""
    when = max(when, wet.line.promised.lower)
    return [turn for turn in wet.turns if turn.period.lower <= when < turn.period.upper]
