"""Days claimed or struck out, as a docket's notes have them. Reads only."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from hire.charging.money import day_words
from hire.models.agreements import Line, StandDown
from people.yard import yard_day


def charged_though(line: Line, *, through: date) -> Iterator[str]:
    """A sentence for each day up to one that was struck out, is claimed, or was refused, and so is charged."""
    rows = line.stand_downs.filter(on__lte=through).select_related("strike")
    stands = {row.on for row in rows if not _is_struck(row)}
    for row in rows:
        if _is_struck(row) and row.on not in stands:
            yield (
                f"{row.get_kind_display()} on {day_words(row.on)} was struck out on {day_words(yard_day(row.strike.made_at))}: "
                f"{row.strike.why}"
            )
    for claim in line.stand_down_claims.filter(on__lte=through).select_related("answer"):
        if claim.on in stands:
            continue
        if claim.is_open:
            yield f"{claim.get_kind_display()} on {day_words(claim.on)} is claimed and not agreed: it is charged."
        elif claim.answer.stand_down_id is None:
            yield f"{claim.get_kind_display()} on {day_words(claim.on)} was claimed and refused: {claim.answer.words}"


def _is_struck(row: StandDown) -> bool:
    return hasattr(row, "strike")
