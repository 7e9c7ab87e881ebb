"""Ready rows for the operators' pages: each ticket with how it stands, each operator with what lapses soonest."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from hire.models.operators import Operator, OperatorTurn, Ticket
from people.yard import yard_day, yard_policy


@dataclass(frozen=True)
class TicketRow:
    """state: "stop" (lapsed), "caution" (lapses within the yard's lead time), "good" or "struck"."""

    ticket: Ticket
    state: str
    words: str


@dataclass(frozen=True)
class OperatorRow:
    operator: Operator
    licence: str
    soonest: TicketRow | None
    held: int
    turn: OperatorTurn | None


def ticket_row(ticket: Ticket, *, on: date) -> TicketRow:
    if ticket.struck_at is not None:
        return TicketRow(ticket, "struck", f"Struck out: {ticket.struck_why}")
    if ticket.ends_on is None:
        return TicketRow(ticket, "good", "Does not lapse")
    if ticket.has_lapsed(on=on):
        return TicketRow(ticket, "stop", f"Lapsed after {ticket.ends_on:%-d %b %Y}")
    days = (ticket.ends_on - on).days
    is_near = timedelta(days=days) <= yard_policy().document_lead
    return TicketRow(ticket, "caution" if is_near else "good", f"Good until {ticket.ends_on:%-d %b %Y}")


def _what(ticket: Ticket) -> tuple[object, ...]:
    """Two tickets alike in this are one renewed."""
    return (
        ticket.kind,
        ticket.licence_class,
        ticket.words.casefold(),
        ticket.customer_id,
        ticket.site.casefold(),
    )


def newest(tickets: Iterable[Ticket]) -> list[Ticket]:
    """Of each ticket the one that lapses last."""
    found: dict[tuple[object, ...], Ticket] = {}
    for ticket in sorted(tickets, key=lambda one: (one.ends_on or date.max, one.recorded_at)):
        found[_what(ticket)] = ticket
    return list(found.values())


def operator_rows(operators: Sequence[Operator], *, at: datetime) -> list[OperatorRow]:
    """Two queries however many operators."""
    ids, on = [one.pk for one in operators], yard_day(at)
    held: defaultdict[object, list[Ticket]] = defaultdict(list)
    for ticket in Ticket.objects.counting().filter(operator__in=ids).select_related("customer"):
        held[ticket.operator_id].append(ticket)
    turns: dict[object, OperatorTurn] = {}
    for turn in OperatorTurn.objects.to_come(at=at).filter(operator__in=ids).for_list().order_by("period"):
        turns.setdefault(turn.operator_id, turn)
    rows = []
    for one in operators:
        tickets = newest(held[one.pk])
        licence = ", ".join(ticket.licence_class for ticket in tickets if ticket.kind == "licence")
        lapsing = [ticket_row(ticket, on=on) for ticket in tickets if ticket.ends_on is not None]
        soonest = min(lapsing, key=lambda row: row.ticket.ends_on or date.max, default=None)
        rows.append(OperatorRow(one, licence, soonest, len(tickets), turns.get(one.pk)))
    return rows


TICKET_HEAD = (
    "Operator", "Firm", "What", "Class", "For", "Customer", "Site", "Number", "Issued", "Good until", "Recorded", "By",
    "Struck out", "Why",
)  # fmt: skip


def ticket_table(tickets: Iterable[Ticket]) -> Iterator[Sequence[object]]:
    for one in tickets:
        yield (
            one.operator.own_name, one.operator.firm, one.get_kind_display(), one.licence_class, one.words,
            one.customer.name if one.customer else "", one.site, one.number, one.issued_on, one.ends_on, one.recorded_at,
            one.recorded_by.full_name, one.struck_at, one.struck_why,
        )  # fmt: skip
