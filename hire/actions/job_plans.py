"""Keeping a plan of a job with what it was made for."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import ask_role, check_fields, rules_of
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.job_plans import JobPlan
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
