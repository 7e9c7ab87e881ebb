"""Days claimed or struck out, as a docket's notes have them. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from zoneinfo import ZoneInfo

from hire.charging.money import counted, day_words, joined, number
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


def worked_though(line: Line, *, through: date) -> Iterator[str]:
    """A sentence for each day up to one that is stood down though loads, or a daily docket the customer signed, are on record."""
    zone = ZoneInfo(line.agreement.time_zone)
    rows = list(line.stand_downs.standing().filter(on__lte=through).order_by("on"))
    if not rows:
        return
    loads: defaultdict[date, list[int]] = defaultdict(list)
    for taken_at, litres in line.loads.counted().values_list("taken_at", "litres"):
        loads[taken_at.astimezone(zone).date()].append(litres)
    signed: defaultdict[date, list[str]] = defaultdict(list)
    dockets = line.daily_dockets.standing().filter(signature__isnull=False)
    for on, docket in dockets.order_by("number").values_list("on", "number"):
        signed[on].append(f"the signed daily docket {docket}")
    for row in rows:
        of_day = loads[row.on]
        told = [f"{counted(len(of_day), 'load')} of {number(sum(of_day))} L"] if of_day else []
        told += signed[row.on]
        if told:
            be = "is" if len(of_day) + len(signed[row.on]) == 1 else "are"
            what = row.get_kind_display().lower()
            yield (
                f"{day_words(row.on)} is stood down for {what}, though {joined(told)} of that day {be} on record."
            )


def _is_struck(row: StandDown) -> bool:
    return hasattr(row, "strike")
