"""The operators of a wet hire in its site pack: their licence, tickets and inductions, and what they lack."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from hire.models.agreements import Line
from hire.models.operators import Ticket
from hire.operator_fitness import INDUCTION, KINDS, LICENCE
from hire.site_rules import day_words
from hire.wet_reading import Wet, lacks, tickets_of, wets_of
from people.yard import yard_day


def pack_operators(line: Line, *, start: datetime, end: datetime) -> list[dict[str, Any]]:
    """Who goes with the cart from an instant to another, with the papers that bear on this hire; empty for a dry one."""
    wet = wets_of([line.pk]).get(line.pk)
    if wet is None:
        return []
    turns = [turn for turn in wet.turns if turn.period.lower < end and turn.period.upper > start]
    tickets = tickets_of([turn.operator_id for turn in turns])
    return [
        {
            "name": str(turn.operator),
            "from": day_words(yard_day(turn.period.lower)),
            "tickets": [_ticket(one) for one in tickets.get(turn.operator_id, []) if _bears(one, wet)],
            "lacks": [
                gap.sentence
                for gap in lacks(
                    turn.operator,
                    tickets.get(turn.operator_id, []),
                    wet.asks,
                    start=max(start, turn.period.lower),
                    end=min(end, turn.period.upper),
                )
            ],
        }
        for turn in turns
    ]


def missing_of(line: Line, operators: list[dict[str, Any]]) -> list[str]:
    """What a pack names as missing: nobody put down with a cart that goes wet, or what an operator lacks."""
    if not operators and hasattr(line, "wet"):
        return ["No operator is put down with the cart yet."]
    return [sentence for one in operators for sentence in one["lacks"]]


def _bears(ticket: Ticket, wet: Wet) -> bool:
    """Another customer’s inductions are nothing to this one; a medical or a ticket is shown where the hire asks for it."""
    about = wet.line.agreement
    if ticket.kind == INDUCTION:
        return ticket.is_for(about.customer_id, about.place_of_work)
    return ticket.kind == LICENCE or ticket.kind in wet.row.wants


def _ticket(ticket: Ticket) -> dict[str, str]:
    name = KINDS[ticket.kind].capitalize()
    return {
        "what": " ".join(word for word in (name, ticket.licence_class, ticket.words) if word),
        "number": ticket.number,
        "until": day_words(ticket.ends_on) if ticket.ends_on else "does not lapse",
    }
