"""A person's time on a job: on, off, and on one job at a time."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import rules_of
from fleet.models.defects import Defect
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP
from servicing.actions.repairs import start_repair
from servicing.actions.steps import demand, locked
from servicing.models.jobs import TimeOnJob


class NotOnIt(Refusal):
    """The person is not on this job."""


def _journal(event: Event, time: TimeOnJob, *, by: Staff, at: datetime, left: str = "") -> None:
    defect = time.defect
    write_journal(
        event=event,
        subject=("defect", defect.pk),
        chains=[cart_chain(defect.cart_id)],
        by=by,
        at=at,
        facts={"title": defect.title, "started_at": time.started_at, "ended_at": time.ended_at, "left": left},
    )


@transaction.atomic
def go_on(*, defect: Defect, version: int, by: Staff, at: datetime) -> tuple[TimeOnJob, Defect | None]:
    """Put a person on a job from now, which begins it where nobody has. Gives the job they come off by it, if they were on one.

    On it already: the same stretch again. NotAllowed; ChangedMeanwhile; WrongState, and what start_repair refuses.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers work on defects.")
    # The person's own row is the lock between two tablets.
    Staff.objects.select_for_update(of=("self",), no_key=True).get(pk=by.pk)
    open_one = TimeOnJob.objects.filter(by=by, ended_at=None).select_related("defect__cart").first()
    if open_one is not None and open_one.defect_id == defect.pk:
        return open_one, None
    defect = locked(defect, version)
    if defect.state != "in_repair":
        defect = start_repair(defect=defect, version=version, by=by, at=at)
    demand(defect, "in_repair")
    if open_one is not None:
        open_one.ended_at = at
        open_one.save(update_fields=["ended_at"])
    time = TimeOnJob(defect=defect, by=by, started_at=at)
    with rules_of(TimeOnJob):
        time.save(force_insert=True)
    left = open_one.defect if open_one else None
    _journal(Event.JOB_ON, time, by=by, at=at, left=str(left) if left else "")
    return time, left


@transaction.atomic
def go_off(*, defect: Defect, by: Staff, at: datetime) -> TimeOnJob:
    """Take a person off a job; the job stays begun. NotOnIt."""
    time = (
        TimeOnJob.objects.select_for_update(of=("self",))
        .select_related("defect__cart")
        .filter(defect=defect, by=by, ended_at=None)
        .first()
    )
    if time is None:
        raise NotOnIt(f"You are not on {defect.title.lower()} on {defect.cart.fleet_number} now.")
    time.ended_at = at
    time.save(update_fields=["ended_at"])
    _journal(Event.JOB_OFF, time, by=by, at=at)
    return time
