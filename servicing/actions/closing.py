"""Closed without a repair: no fault found, or the same as another."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.limits import end_limits_of
from fleet.actions.locks import lock_cart
from fleet.models.defects import Defect
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS
from people.templatetags.screen import day_year
from servicing.actions.steps import (
    SamePerson,
    StillDoNotUse,
    WordsWanted,
    demand,
    keep_step,
    leave_job,
    listen,
    locked,
)
from servicing.queue import RANK


class NotTheSame(Refusal):
    """The other defect is of another cart, is closed, or is graded lighter, so that this one cannot rest on it."""

    field = "other"


@transaction.atomic
def find_no_fault(*, defect: Defect, version: int, words: str, by: Staff, at: datetime) -> Defect:
    """Close a defect as no fault found, saying how it was tested; never by who told it or had it repaired.

    NotAllowed; ChangedMeanwhile; WrongState; StillDoNotUse; WordsWanted; SamePerson.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager closes a defect as no fault found.")
    defect = locked(defect, version)
    demand(defect, "reported", "assessed", "put_off", "in_repair")
    if defect.grade == "do_not_use":
        raise StillDoNotUse(
            f"{defect.title} on {defect.cart.fleet_number} is “do not use”: it is repaired, or the workshop manager first "
            "eases its grade with a second named person and a fresh photo."
        )
    if not words.strip():
        raise WordsWanted("Write how it was tested: the next person who sees this wants to know.")
    if defect.told_by_id == by.pk:
        raise SamePerson("You told of this yourself. Somebody else decides that there is no fault.")
    if defect.repaired_by_id == by.pk:
        raise SamePerson("You repaired this yourself. Somebody else decides that there is no fault.")
    before = (defect.state, defect.grade)
    defect.state, defect.closed_at = "no_fault_found", at
    leave_job(defect, at=at)
    end_limits_of(defect=defect, at=at)
    listen(defect, at=at)
    return keep_step(defect, before, event=Event.DEFECT_NO_FAULT, words=words.strip(), by=by, at=at)


def _check_other(defect: Defect, other: Defect) -> None:
    what, cart = f"{defect.title} on {defect.cart.fleet_number}", defect.cart.fleet_number
    if other.pk == defect.pk or other.cart_id != defect.cart_id:
        raise NotTheSame(f"{what}: choose another open defect of {cart}.")
    if not other.is_open:
        raise NotTheSame(f"{other.title} is closed already. {what} stands until it is dealt with itself.")
    if other.state == "repaired":
        raise NotTheSame(
            f"{other.title} is repaired and waits for its second look. If this is it again, send that repair back to the job first."
        )
    if RANK[other.grade] > RANK[defect.grade]:
        raise NotTheSame(
            f"{what} is “{defect.get_grade_display().lower()}” and {other.title.lower()} only "
            f"“{other.get_grade_display().lower()}”. Set the grade of the other first, so that nothing is eased by this."
        )
    if defect.due_on and other.grade == "by_date" and (other.due_on is None or other.due_on > defect.due_on):
        raise NotTheSame(
            f"{what} is to be repaired by {day_year(defect.due_on)} and {other.title.lower()} later. "
            "Give the other that date first, so that nothing is eased by this."
        )


@transaction.atomic
def call_same(*, defect: Defect, version: int, other: Defect, by: Staff, at: datetime) -> Defect:
    """Close a defect because it is the same as another open one of its cart, graded no lighter. What was told stays.

    However the other is closed later, this one is not opened again. NotAllowed; ChangedMeanwhile; WrongState; NotTheSame
    (the database refuses it too).
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager says that two defects are the same.")
    # The cart's lock stands between this and the closing of the other.
    lock_cart(defect.cart)
    rows = Defect.objects.select_for_update(of=("self",)).order_by("pk")
    kept = {row.pk: row for row in rows.filter(pk__in=(defect.pk, other.pk))}
    defect = locked(defect, version)
    demand(defect, "reported", "assessed", "put_off", "in_repair")
    _check_other(defect, kept[other.pk])
    before = (defect.state, defect.grade)
    defect.state, defect.same_as, defect.closed_at = "same_as", kept[other.pk], at
    leave_job(defect, at=at)
    end_limits_of(defect=defect, at=at)
    listen(defect, at=at)
    words = f"The same as “{kept[other.pk].title}”."
    return keep_step(defect, before, event=Event.DEFECT_SAME_AS, words=words, by=by, at=at)
