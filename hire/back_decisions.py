"""What is proposed for a hire that is over, beside what was decided of each thing. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from fleet.models.defects import Defect
from hire.back_again import Again
from hire.back_record import Record
from hire.charging.back import Proposal, propose
from hire.charging.waiver import WAIVED_KINDS
from hire.models.agreements import Line
from hire.models.back import BackDecision
from hire.risk import Late, late_of, told_later


@dataclass(frozen=True)
class Decidable:
    """One proposal; decision: the last word on it, None while nobody has decided; again: what is asked, and was said, of what
    was found again; late: of damage found once the hirer no longer answered for it, told by nobody before then."""

    proposal: Proposal
    decision: BackDecision | None
    again: Again | None = None
    late: Late | None = None

    @property
    def is_open(self) -> bool:
        """Nobody has decided or said, or what was charged was struck out."""
        return self.again.said is None if self.again is not None else is_open(self.decision)


def is_open(decision: BackDecision | None) -> bool:
    return decision is None or (decision.outcome == "charged" and not decision.stands_charged)


def thing_of(line: Line, key: str) -> str:
    """The one name of a proposal's thing in the yard: a defect is one thing, whichever hire it is found on."""
    return key if key.startswith("defect-") else f"{key} {line.pk}"


def defect_of(key: str) -> UUID | None:
    return UUID(key.removeprefix("defect-")) if key.startswith("defect-") else None


def events_of(line: Line) -> list[BackDecision]:
    """What was charged within the waiver's excess on a hire and still is: what else found may be of the same event as."""
    rows = line.back_decisions.filter(is_waived=True, outcome="charged", beside__struck_at=None)
    return list(rows.select_related("same_event"))


def paid_of_event(decision: BackDecision, charged: Sequence[BackDecision]) -> Decimal:
    """What is charged of the excess by everything of its event. charged: as events_of has them."""
    first = decision.same_event_id or decision.pk
    return sum(
        (one.amount or Decimal(0) for one in charged if first in (one.pk, one.same_event_id)), Decimal(0)
    )


def decidables(record: Record) -> list[Decidable]:
    """Every proposal of a hire with its last word; none while the cart is not back."""
    if not record.is_back:
        return []
    proposals = propose(record.facts)
    words = last_words({record.line: proposals})
    asked = {f"again-{one.key}": one for one in record.again}
    late = _late_by_key(record) if any(one.kind in WAIVED_KINDS for one in proposals) else {}
    return [
        Decidable(one, words[record.line.pk, one.key], asked.get(one.key), late.get(one.key))
        for one in proposals
    ]


def _late_by_key(record: Record) -> dict[str, Late]:
    """By proposal, what a person has to say before it is charged."""
    late = late_of(record.line, record.walks)
    found = told_later([told.defect for told in record.new], late) if late else set()
    return {f"defect-{pk}": late for pk in found if late}


def last_words(
    proposals: Mapping[Line, Sequence[Proposal]],
) -> dict[tuple[UUID, str], BackDecision | None]:
    """The last word on every proposal of these hires, by hire and key. Two defects that turned out to be one are one thing: what
    was decided of either counts, a charge before anything else. Two queries."""
    others = _same_ones([pk for found in proposals.values() for one in found if (pk := defect_of(one.key))])
    things = {
        (line.pk, one.key): [thing_of(line, one.key), *(f"defect-{pk}" for pk in others.get(one.key, ()))]
        for line, found in proposals.items()
        for one in found
    }
    rows = BackDecision.objects.filter(
        thing__in={thing for names in things.values() for thing in names}, replaced_by=None
    )
    last = {row.thing: row for row in rows.select_related("beside", "decided_by", "same_event")}
    words = {at: [last[thing] for thing in names if thing in last] for at, names in things.items()}
    return {
        at: next((row for row in found if row.stands_charged), None) or next(iter(found), None)
        for at, found in words.items()
    }


def _same_ones(ids: Sequence[UUID]) -> Mapping[str, list[UUID]]:
    """By proposal, the defects that turned out to be the same as its own."""
    found: defaultdict[str, list[UUID]] = defaultdict(list)
    if ids:
        for pk, root in Defect.objects.filter(same_as__in=ids).values_list("pk", "same_as"):
            found[f"defect-{root}"].append(pk)
    return found
