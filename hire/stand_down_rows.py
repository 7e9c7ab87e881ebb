"""Ready rows for days stood down, claimed and struck out: as a list, as a file. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from fleet.sentences import past_words
from hire.models.agreements import Line, StandDown
from hire.models.stand_downs import StandDownClaim


@dataclass(frozen=True)
class StandDownRow:
    """What is said of one day. said: the row itself, a claim where it is claimed or was refused.
    state: "stands" | "struck" | "claimed" | "refused". words: what was said when it was struck out, refused or agreed."""

    line: Line
    on: date
    said: StandDown | StandDownClaim
    state: str
    decided_at: datetime | None = None
    decided_by: str = ""
    words: str = ""

    @property
    def state_words(self) -> str:
        return STATES[self.state]

    @property
    def is_open(self) -> bool:
        return self.state == "claimed"

    @property
    def stands(self) -> bool:
        return self.state == "stands"


STATES = {
    "stands": "Stood down", "struck": "Struck out", "claimed": "Claimed, not agreed", "refused": "Claimed, refused",
}  # fmt: skip


def stand_down_rows(lines: Iterable[Line]) -> list[StandDownRow]:
    """Every day of these lines, each claim that became none among them, by day. Two queries."""
    by_id = {line.pk: line for line in lines}
    days = StandDown.objects.filter(line__in=by_id).select_related(
        "made_by", "strike__made_by", "claim_answer__made_by"
    )
    claims = StandDownClaim.objects.filter(line__in=by_id, answer__stand_down=None).for_list()
    rows = [_of_day(by_id[row.line_id], row) for row in days]
    rows += [_of_claim(by_id[row.line_id], row) for row in claims]
    return sorted(
        rows, key=lambda row: (row.on, row.said.made_at is not None, row.said.made_at or row.said.told_at)
    )


def _of_day(line: Line, row: StandDown) -> StandDownRow:
    if hasattr(row, "strike"):
        strike = row.strike
        return StandDownRow(line, row.on, row, "struck", strike.made_at, strike.made_by.full_name, strike.why)
    if hasattr(row, "claim_answer"):
        agreed = row.claim_answer
        return StandDownRow(line, row.on, row, "stands", agreed.made_at, agreed.made_by.full_name)
    return StandDownRow(line, row.on, row, "stands")


def _of_claim(line: Line, claim: StandDownClaim) -> StandDownRow:
    if claim.is_open:
        return StandDownRow(line, claim.on, claim, "claimed")
    said = claim.answer
    return StandDownRow(line, claim.on, claim, "refused", said.made_at, said.made_by.full_name, said.words)


def claim_sentences(claim: StandDownClaim, *, at: datetime) -> list[str]:
    """What was claimed, by whom and when, before it is answered."""
    told = past_words(claim.told_at, at=at)
    said = f"{claim.get_kind_display()}: “{claim.why}”, told by {claim.told_by_words} {told}."
    hours = [
        f"{value.normalize():f} h {what}."
        for value, what in ((claim.worked_hours, "on the clock that day"), (claim.lost_hours, "lost"))
        if value is not None
    ]
    return [said, *hours, *([f"They say: “{claim.customer_words}”"] if claim.customer_words else [])]


STAND_DOWN_HEAD = (
    "Cart", "Day", "State", "What for", "Why", "Told", "Told by", "Hours on the clock", "Hours lost", "Came of", "Customer says",
    "Yard says", "Entered", "Entered by", "Decided", "Decided by", "Words",
)  # fmt: skip


def stand_down_table(rows: Iterable[StandDownRow]) -> Iterator[Sequence[object]]:
    for row in rows:
        said = row.said
        yield (
            row.line.cart.fleet_number, row.on, row.state_words, said.get_kind_display(), said.why, said.told_at,
            said.told_by_words, said.worked_hours, said.lost_hours, said.get_cause_display() if said.kind == "breakdown" else "",
            said.customer_words, said.yard_words, said.made_at, said.made_by.full_name if said.made_by else "", row.decided_at,
            row.decided_by, row.words,
        )  # fmt: skip
