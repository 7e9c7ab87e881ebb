"""Ready rows for the hire screens: a finding with its record's address and who can clear it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fleet.board import answers_for
from fleet.readiness import Readiness
from fleet.records import record_url
from fleet.sentences import readiness_sentence
from hire.models.agreements import Line


@dataclass(frozen=True)
class StopRow:
    """One thing that stops a cart: shape, what, who clears it, where its record is."""

    shape: str
    what: str
    how: str
    url: str
    label: str


@dataclass(frozen=True)
class LineRow:
    """One hire of the day sheet; state and sentence: whether its cart may go, "" while another hire comes before it."""

    line: Line
    state: str
    sentence: str


def line_rows(lines: Sequence[Line], *, at: datetime) -> list[LineRow]:
    """Hires that have not left, each with its cart's right to go, in a constant number of queries."""
    answers = {
        need.record_id: answer
        for need, answer in answers_for([line.cart for line in lines], at=at).values()
        if need is not None
    }
    rows = []
    for line in lines:
        answer = answers.get(line.pk)
        rows.append(
            LineRow(line, answer.state if answer else "", readiness_sentence(answer) if answer else "")
        )
    return rows


def stop_rows(answer: Readiness) -> list[StopRow]:
    return [
        StopRow(
            "stop",
            blocker.sentence,
            f"{blocker.clear_words}.",
            record_url(blocker.record.kind, blocker.record.id),
            "Open its record",
        )
        for blocker in answer.blockers
    ]


def caution_rows(answer: Readiness) -> list[StopRow]:
    return [
        StopRow(
            "caution",
            caution.sentence,
            "",
            record_url(caution.record.kind, caution.record.id),
            "Open its record",
        )
        for caution in answer.cautions
    ]
