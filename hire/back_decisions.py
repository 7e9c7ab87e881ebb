"""What is proposed for a hire that is over, beside what was decided of each thing. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from fleet.models.defects import Defect
from hire.back_again import Again
from hire.back_record import Record
from hire.back_terms import BackTerms, back_terms_from
from hire.charge_facts import terms_of
from hire.charging.back import Proposal, propose
from hire.models.agreements import Line
from hire.models.back import BackDecision


@dataclass(frozen=True)
class Decidable:
    """One proposal; decision: the last word on it, None while nobody has decided; again: what is asked, and was said, of what
    was found again."""

    proposal: Proposal
    decision: BackDecision | None
    again: Again | None = None

    @property
    def is_open(self) -> bool:
        """Nobody has decided or said, or what was charged was struck out."""
        if self.again is not None:
            return self.again.said is None
        return self.decision is None or (
            self.decision.outcome == "charged" and not self.decision.stands_charged
        )


def thing_of(line: Line, key: str) -> str:
    """The one name of a proposal's thing in the yard: a defect is one thing, whichever hire it is found on."""
    return key if key.startswith("defect-") else f"{key} {line.pk}"


def defect_of(key: str) -> UUID | None:
    return UUID(key.removeprefix("defect-")) if key.startswith("defect-") else None


def back_terms_of(line: Line) -> BackTerms:
    """What was agreed of fuel, washing and call-outs; nothing, where no rate is agreed."""
    agreed = terms_of(line)
    return back_terms_from(agreed.body) if agreed else BackTerms()


def decidables(record: Record) -> list[Decidable]:
    """Every proposal of a hire with its last word; none while the cart is not back. Two defects that turned out to be one are
    one thing: what was decided of either counts, a charge before anything else."""
    if not record.is_back:
        return []
    proposals = propose(record.facts)
    others = _same_ones(proposals)
    things = {
        one.key: [thing_of(record.line, one.key), *(f"defect-{pk}" for pk in others.get(one.key, ()))]
        for one in proposals
    }
    last = {
        row.thing: row
        for row in BackDecision.objects.filter(
            thing__in=[thing for names in things.values() for thing in names], replaced_by=None
        ).select_related("beside", "decided_by")
    }
    asked = {f"again-{one.key}": one for one in record.again}
    found = []
    for one in proposals:
        words = [last[thing] for thing in things[one.key] if thing in last]
        found.append(
            Decidable(
                one,
                next((row for row in words if row.stands_charged), None) or next(iter(words), None),
                asked.get(one.key),
            )
        )
    return found


def _same_ones(proposals: tuple[Proposal, ...]) -> Mapping[str, list[UUID]]:
    """By proposal, the defects that turned out to be the same as its own."""
    ids = [pk for one in proposals if (pk := defect_of(one.key))]
    found: defaultdict[str, list[UUID]] = defaultdict(list)
    if ids:
        for pk, root in Defect.objects.filter(same_as__in=ids).values_list("pk", "same_as"):
            found[f"defect-{root}"].append(pk)
    return found
