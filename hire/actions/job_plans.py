"""Keeping a plan of a job with what it was made for, and letting it go with what becomes of that."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from fleet.actions.locks import ask_role, check_fields, rules_of
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.job_plans import JobPlan, PlanFollowed
from hire.models.pencils import Pencil
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.roles import DESK


@transaction.atomic
def keep_job_plan(
    *,
    words: str,
    question: str,
    enquiry: str = "",
    line: Line | None = None,
    booking: Booking | None = None,
    pencil: Pencil | None = None,
    by: Staff,
    at: datetime,
) -> JobPlan:
    """Keep a plan as its address has it. The same as the newest of that hire, booking or pencil again returns it.

    NotAllowed; AgainstARule without words or for two of the three at once.
    """
    ask_role(by, DESK, "Plans of jobs are kept by the hire desk.")
    said = {
        "words": words.strip(),
        "question": question,
        "enquiry": enquiry,
        "line": line,
        "booking": booking,
        "pencil": pencil,
    }
    newest = JobPlan.objects.filter(line=line, booking=booking, pencil=pencil).first()
    if newest is not None and all(getattr(newest, name) == value for name, value in said.items()):
        return newest
    plan = JobPlan(planned_at=at, planned_by=by, **said)
    check_fields(plan)
    with rules_of(JobPlan):
        plan.save(force_insert=True)
    cart_id = line.cart_id if line else pencil.cart_id if pencil else None
    write_journal(
        event=Event.JOB_PLANNED, subject=("job_plan", plan.pk), chains=[cart_chain(cart_id) if cart_id else YARD], by=by, at=at,
        facts={"words": plan.words, "question": question, "kept_with": plan.kept_with},
    )  # fmt: skip
    return plan


def plans_go_with(
    place: Line | Booking | Pencil, *, plan: JobPlan | None = None, pencil: Pencil | None = None, by: Staff, at: datetime
) -> dict[str, object]:  # fmt: skip
    """Part of another action: the plan the caller's question carried, and those of the pencilled cart that the place came of, go
    with it. For the journal: their words, or nothing."""
    going: Iterable[JobPlan] = JobPlan.objects.of_pencil(pencil) if pencil else ()
    plans = {one.pk: one for one in [*going, *([plan] if plan else [])]}
    name = {Line: "line", Booking: "booking", Pencil: "pencil"}[type(place)]
    for one in plans.values():
        PlanFollowed(plan=one, followed_at=at, by=by, **{name: place}).save(force_insert=True)
    return {"plans": [one.words for one in plans.values()]} if plans else {}
