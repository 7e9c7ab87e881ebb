"""What this fleet learns from its own repairs: how long each check's take. Rebuilt whole, so that a wrong figure mends itself."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from fleet.models.defects import Defect, DefectStep
from servicing.models.jobs import RepairTime, TimeOnJob
from servicing.queue import REPAIR_PRIOR
from servicing.repair_times import estimate, time_taken

Stretches = dict[UUID, list[tuple[datetime, datetime]]]
MINUTE = timedelta(minutes=1)


def _clocked() -> Stretches:
    """The time people put down on jobs that were done."""
    found: Stretches = defaultdict(list)
    times = TimeOnJob.objects.filter(defect__state="verified", ended_at__isnull=False)
    for defect_id, start, end in times.values_list("defect_id", "started_at", "ended_at").iterator():
        if end is not None:
            found[defect_id].append((start, end))
    return found


def _from_steps() -> Stretches:
    """From begun to done, where nobody put down their time; a repair sent back has more than one stretch."""
    found: Stretches = defaultdict(list)
    begun: dict[UUID, datetime] = {}
    steps = DefectStep.objects.filter(defect__state="verified", after_state__in=("in_repair", "repaired"))
    for defect_id, state, at in (
        steps.order_by("defect_id", "at").values_list("defect_id", "after_state", "at").iterator()
    ):
        if state == "in_repair":
            begun.setdefault(defect_id, at)
        elif defect_id in begun:
            found[defect_id].append((begun.pop(defect_id), at))
    return found


def _taken_by_check() -> Mapping[str, list[timedelta]]:
    stretches = {**_from_steps(), **_clocked()}
    taken: defaultdict[str, list[timedelta]] = defaultdict(list)
    done = Defect.objects.filter(state="verified").exclude(check_key="")
    for defect_id, check_key in done.values_list("pk", "check_key").iterator():
        if (span := time_taken(stretches.get(defect_id, ()))) > timedelta(0):
            taken[check_key].append(span)
    return taken


def _minutes(span: timedelta) -> int:
    """Rounded up to whole minutes, which is how the table keeps them."""
    return max(1, math.ceil(span / MINUTE))


@transaction.atomic
def rebuild_repair_times(*, at: datetime) -> int:
    """Reckon the expected repair time of every check ever repaired, at every grade, anew. Gives how many checks.

    Three queries, a delete and an insert however many repairs. It changes no record of the yard, so nothing is journalled.
    """
    taken = _taken_by_check()
    rows = []
    for check_key, spans in taken.items():
        for grade, prior in REPAIR_PRIOR.items():
            found = estimate(taken=spans, prior=prior)
            rows.append(
                RepairTime(
                    check_key=check_key,
                    grade=grade,
                    expected_minutes=_minutes(found.expected),
                    repairs=found.repairs,
                    low_minutes=None if found.low is None else _minutes(found.low),
                    high_minutes=None if found.high is None else _minutes(found.high),
                    made_at=at,
                )
            )
    RepairTime.objects.exclude(check_key__in=list(taken)).delete()
    RepairTime.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["check_key", "grade"],
        update_fields=["expected_minutes", "repairs", "low_minutes", "high_minutes", "made_at"],
    )
    return len(taken)
