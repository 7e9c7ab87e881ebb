"""What was wrong again as it came back, where a defect of the same check was open as it left, so that none was told. Reads
only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from hire.back_findings import BACK, Told, where_of
from hire.charging.back import FoundAgain
from hire.models.agreements import Line
from hire.models.back import AgainSaid
from inspections.models import Answer, WalkRound
from inspections.wording import AnswerLine
from people.yard import yard_day

WORST = ("do_not_use", "by_date", "watch")


@dataclass(frozen=True)
class Again:
    """One answer, the walk-round it is of, the open defects it joined, worst first, and what a person said of it."""

    line: AnswerLine
    walk: WalkRound
    stood: Sequence[Told]
    said: AgainSaid | None

    @property
    def answer(self) -> Answer:
        return self.line.answer

    @property
    def key(self) -> str:
        return str(self.answer.pk)

    @property
    def joined(self) -> Told:
        return self.stood[0]

    @property
    def where(self) -> str:
        return where_of(self.answer)

    @property
    def what(self) -> str:
        return f"{self.answer.title}, {self.where}"

    @property
    def told(self) -> str:
        when = yard_day(self.walk.signed_at)
        return f"{self.walk.get_purpose_display()}, {when.day} {when:%b %Y}, {self.walk.author_name}"


def again_of(
    line: Line,
    walks: Mapping[str, WalkRound],
    lines: Mapping[str, Sequence[AnswerLine]],
    on_record: Sequence[Told],
    told_since: Collection[tuple[str, str]],
) -> list[Again]:
    """Each check and place that is wrong as it came back, was on the record it left with, and told nothing of its own since; of
    two answers the later is asked about. What was said once stays, whatever became of the defects."""
    stood: defaultdict[tuple[str, str], list[Told]] = defaultdict(list)
    for told in sorted(on_record, key=lambda told: WORST.index(told.defect.grade)):
        if told.defect.check_key:
            stood[told.defect.check_key, told.defect.place].append(told)
    wrong = {
        (one.answer.check_key, one.answer.place): (one, walks[purpose])
        for purpose in BACK
        for one in lines.get(purpose, ())
        if one.answer.grade
    }
    said = {row.answer_id: row for row in line.again_said.select_related("said_by", "told")}
    return [
        Again(one, walk, stood[key], said.get(one.answer.pk))
        for key, (one, walk) in wrong.items()
        if key in stood and is_asked(one.answer.pk, key, told_since=told_since, said=said)
    ]


def is_asked(
    answer_id: UUID, key: tuple[str, str], *, told_since: Collection[tuple[str, str]], said: Collection[UUID]
) -> bool:
    """Whether an answer where something stood has to be told apart, or was."""
    return key not in told_since or answer_id in said


def asked_of(again: Sequence[Again]) -> tuple[FoundAgain, ...]:
    """As facts for a proposal."""
    return tuple(
        FoundAgain(
            id=one.key,
            what=one.answer.title,
            where=one.where,
            shown=" ".join(filter(None, [one.line.said, f"{one.told}. {_stood_words(one.joined)}"])),
        )
        for one in again
    )


def _stood_words(told: Told) -> str:
    words = f"“{told.defect.words.rstrip('.')}”, " if told.defect.words else ""
    return f"Open here as it left: {words}{told.told}."
