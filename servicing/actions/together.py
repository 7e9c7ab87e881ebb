"""One act on many defects: each through its own action in its own transaction, so that one refusal holds up no other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from uuid import UUID

from fleet.models.defects import Defect
from people.refusals import Refusal


@dataclass(frozen=True)
class Ticked:
    """A defect and the version of it that was on the page."""

    defect_id: UUID
    version: int

    @property
    def key(self) -> str:
        return f"{self.defect_id}:{self.version}"


@dataclass(frozen=True)
class Outcome:
    """What came of it: the defects it was done to, and those it was refused for with the sentence why."""

    done: list[Defect]
    refused: list[tuple[Defect, str]]

    @property
    def words(self) -> str:
        """What came of it in one sentence: "Done for 5 of 7 defects."."""
        whole = len(self.done) + len(self.refused)
        what = "1 defect" if whole == 1 else f"{whole} defects"
        return f"Done for {what}." if not self.refused else f"Done for {len(self.done)} of {what}."


def read_ticks(keys: Sequence[str]) -> list[Ticked]:
    """What was ticked, each once, from "id:version". ValueError for anything else."""
    found = {}
    for key in keys:
        defect_id, _, version = key.partition(":")
        found[UUID(defect_id)] = Ticked(UUID(defect_id), int(version))
    return list(found.values())


def for_each(ticked: Sequence[Ticked], act: Callable[[Defect, int], object]) -> Outcome:
    """Do an act to every ticked defect, in the order given. One that is not there any more is left out.

    act: the defect and the version that was seen; what it refuses is kept, and the next one follows.
    """
    rows = Defect.objects.for_list().in_bulk([one.defect_id for one in ticked])
    outcome = Outcome([], [])
    for one in ticked:
        defect = rows.get(one.defect_id)
        if defect is None:
            continue
        try:
            act(defect, one.version)
        except Refusal as no:
            outcome.refused.append((defect, no.sentence))
        else:
            outcome.done.append(defect)
    return outcome
