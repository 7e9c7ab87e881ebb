"""How bad a defect is, whose job it is, and until when it waits."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from fleet.models.defects import MOST_PUT_OFF, MOST_RENEWALS, Defect
from fleet.models.photos import Photo
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, Role
from people.templatetags.screen import day_year
from people.yard import yard_day, yard_policy
from servicing.actions.steps import DateWanted, WordsWanted, demand, keep_step, leave_job, locked


class RegradeWantsTwo(Refusal):
    """Easing "do not use" takes the workshop manager, a second named person and a fresh photo."""

    field = "second_name"


class WatchedLongEnough(Refusal):
    """A watch is renewed at most twice; then it is repaired by a date."""

    field = "grade"


class NeverPutOff(Refusal):
    """A "do not use" is repaired, not put off."""


class PutOffTooOften(Refusal):
    """A defect is put off once, and again at most twice."""


def _check_easing(defect: Defect, second_name: str, photo: Photo | None, *, by: Staff) -> None:
    if by.role != Role.WORKSHOP_MANAGER or not second_name.strip() or photo is None:
        raise RegradeWantsTwo(
            "Easing “do not use” takes the workshop manager, a second named person and a fresh photo; the old grade is kept."
        )
    if second_name.strip().casefold() == by.full_name.strip().casefold():
        raise RegradeWantsTwo("The second person is somebody other than you.")
    if photo.received_at <= defect.told_at:
        raise RegradeWantsTwo(
            "That photo was here before the defect was told. Take a fresh one.", field="photo"
        )


def _watch(defect: Defect, look_again_on: date | None, look_again_if: str, *, on: date) -> None:
    """Set when a watch is looked at again; a later day than it had is a renewal."""
    kept = defect.look_again_on if defect.grade == "watch" else None
    if look_again_on is None:
        look_again_on = kept if kept is not None and kept > on else on + yard_policy().watch_for
    if look_again_on < on:
        raise DateWanted(
            f"Give a day on which {defect.title.lower()} is looked at again, today or later.",
            field="look_again_on",
        )
    is_renewed = kept is not None and look_again_on > kept
    if defect.renewals >= MOST_RENEWALS and (is_renewed or defect.grade != "watch"):
        raise WatchedLongEnough(
            f"{defect.title} on {defect.cart.fleet_number} was to be watched, and that was renewed twice. "
            "Now it is repaired by a date."
        )
    defect.renewals += is_renewed
    defect.look_again_on, defect.look_again_if = look_again_on, look_again_if.strip()


@transaction.atomic
def assess_defect(
    *,
    defect: Defect,
    version: int,
    grade: str,
    due_on: date | None,
    assigned_to: Staff | None,
    words: str,
    by: Staff,
    at: datetime,
    second_name: str = "",
    photo: Photo | None = None,
    look_again_on: date | None = None,
    look_again_if: str = "",
) -> Defect:
    """Look at a defect: set its grade, date and person. One that was put off is back in the queue by it.

    look_again_on, look_again_if: only with "watch"; no day: the day it has, else the yard's own time from today.
    NotAllowed; ChangedMeanwhile; WrongState; DateWanted; WatchedLongEnough after two renewals; RegradeWantsTwo when
    "do not use" is eased.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager sets a defect's grade.")
    defect, on = locked(defect, version), yard_day(at)
    demand(defect, "reported", "assessed", "put_off", "in_repair")
    before = (defect.state, defect.grade)
    eased = defect.grade == "do_not_use" and grade != "do_not_use"
    if eased:
        _check_easing(defect, second_name, photo, by=by)
    if grade == "by_date" and (due_on is None or due_on < on):
        raise DateWanted(f"Give a day by which {defect.title.lower()} must be repaired, today or later.")
    if grade == "watch":
        _watch(defect, look_again_on, look_again_if, on=on)
    else:
        defect.look_again_on, defect.look_again_if = None, ""
    defect.grade, defect.due_on = grade, due_on if grade == "by_date" else None
    defect.assigned_to = assigned_to
    if defect.state in ("reported", "put_off"):
        defect.state = "assessed"
    told = f"{words.strip()} Second person: {second_name.strip()}." if eased else words
    event = Event.DEFECT_REGRADED if eased else Event.DEFECT_LOOKED_AT
    return keep_step(
        defect, before, event=event, words=told.strip(), by=by, at=at, photos=[photo] if photo else []
    )


@transaction.atomic
def assign_defect(*, defect: Defect, version: int, assigned_to: Staff, by: Staff, at: datetime) -> Defect:
    """Say whose job a defect is; nothing else of it changes. NotAllowed; ChangedMeanwhile; WrongState."""
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager says whose job a defect is.")
    defect = locked(defect, version)
    demand(defect, "reported", "assessed", "put_off", "in_repair")
    before = (defect.state, defect.grade)
    defect.assigned_to = assigned_to
    words = f"The job of {assigned_to.full_name}."
    return keep_step(defect, before, event=Event.DEFECT_ASSIGNED, words=words, by=by, at=at)


@transaction.atomic
def put_off(*, defect: Defect, version: int, until: date, because: str, by: Staff, at: datetime) -> Defect:
    """Put a defect off until a day, on which it is back in the queue by itself: the queue reads the date.

    Never "do not use", never past the date it is to be repaired by, and again at most twice; the database keeps all
    three. NotAllowed; ChangedMeanwhile; WrongState; NeverPutOff; PutOffTooOften; DateWanted; WordsWanted.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager puts a defect off.")
    defect = locked(defect, version)
    demand(defect, "reported", "assessed", "put_off")
    what = f"{defect.title} on {defect.cart.fleet_number}"
    if defect.grade == "do_not_use":
        raise NeverPutOff(f"{what} is “do not use”, which is never put off. It is repaired.")
    if defect.put_off_times >= MOST_PUT_OFF:
        raise PutOffTooOften(f"{what} was put off {MOST_PUT_OFF} times already. Now it is repaired.")
    if until <= yard_day(at):
        raise DateWanted(f"Give a day after today until which {what} is put off.", field="until")
    if defect.grade == "by_date" and defect.due_on is None:
        raise DateWanted(
            f"{what} has no date to be repaired by yet. Look at it and set one first.", field="until"
        )
    if defect.due_on is not None and until > defect.due_on:
        raise DateWanted(
            f"{what} is to be repaired by {day_year(defect.due_on)}. Put it off no further than that day.",
            field="until",
        )
    if not because.strip():
        raise WordsWanted(f"Write why {what} is put off: the next person who sees it asks.", field="because")
    before = (defect.state, defect.grade)
    defect.state, defect.put_off_until, defect.put_off_because = "put_off", until, because.strip()
    defect.put_off_by, defect.put_off_times = by, defect.put_off_times + 1
    leave_job(defect, at=at)
    words = f"Until {day_year(until)}, because: {because.strip()}"
    return keep_step(defect, before, event=Event.DEFECT_PUT_OFF, words=words, by=by, at=at)
