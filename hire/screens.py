"""Ready rows for the hire screens: a finding with its record's address and who can clear it."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.readiness import Readiness
from fleet.records import record_url


@dataclass(frozen=True)
class StopRow:
    """One thing that stops a cart: shape, what, who clears it, where its record is."""

    shape: str
    what: str
    how: str
    url: str
    label: str


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
