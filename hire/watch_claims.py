"""Days a customer claims as stood down, which nobody has answered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from hire.charging.money import days_words
from hire.models.stand_downs import StandDownClaim
from people.roles import Role


def claims_open(at: datetime) -> Iterator[Condition]:
    """Hires with claims that wait for the yard's answer. One query."""
    waiting: defaultdict[UUID, list[StandDownClaim]] = defaultdict(list)
    for claim in StandDownClaim.objects.open().for_list():
        waiting[claim.line_id].append(claim)
    for line_id, claims in waiting.items():
        line, first = claims[0].line, min(claims, key=lambda one: one.made_at)
        yield Condition(
            subject_kind="hire_line",
            subject_id=line_id,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.agreement.customer.name} claims {line.cart.fleet_number} as stood down on "
            f"{days_words([one.on for one in claims])}, and nobody has answered.",
            how_we_know=f"Told by {first.told_by_words} {past_words(first.told_at, at=at)} on {line.agreement.number}.",
            if_not="It is charged meanwhile, pre-starts are owed, and what happened that day is forgotten.",
            due_at=first.made_at,
            act="Agree or refuse it",
        )
