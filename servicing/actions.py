"""From told to freed: a defect is looked at, repaired and given its second look, each step kept with who and when.

The workshop clears; nothing else does. Every action takes the version the person saw, so that two people on one
defect cannot overwrite each other unseen.
"""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from fleet.actions.limits import end_limits_of, set_limit
from fleet.actions.locks import lock_cart
from fleet.models.defects import Defect, DefectStep
from fleet.models.photos import Photo
from fleet.models.standing import Limit
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, WALKERS, WORKSHOP, Role
from people.yard import yard_day


class ChangedMeanwhile(Refusal):
    """Somebody else changed this defect after the page was opened."""


class WrongState(Refusal):
    """The step does not follow from where the defect stands."""


class DateWanted(Refusal):
    """A repair by a date needs its date, and not one that has passed."""

    field = "due_on"


class RegradeWantsTwo(Refusal):
    """Easing "do not use" takes the workshop manager, a second named person and a fresh photo."""

    field = "second_name"


class WordsWanted(Refusal):
    """The record would say nothing of what was done."""

    field = "words"


class SamePerson(Refusal):
    """The second look is given by somebody other than the person who did the repair."""


class StillDoNotUse(Refusal):
    """Nobody talks a "do not use" away alone: it is repaired, or its grade is eased by two people first."""


def _locked(defect: Defect, version: int) -> Defect:
    locked = (
        Defect.objects.select_for_update(of=("self",)).select_related("cart", "repaired_by").get(pk=defect.pk)
    )
    if locked.version != version:
        raise ChangedMeanwhile(
            f"{locked.title} on {locked.cart.fleet_number} was changed by somebody else meanwhile. "
            "Look at how it stands now, then decide again."
        )
    return locked


def _demand(defect: Defect, *states: str) -> None:
    if defect.state not in states:
        raise WrongState(
            f"{defect.title} on {defect.cart.fleet_number} is “{defect.get_state_display().lower()}” now."
        )


def _step(
    defect: Defect,
    before: tuple[str, str],
    *,
    event: Event,
    words: str,
    by: Staff,
    at: datetime,
    photo: Photo | None = None,
) -> Defect:
    """Save the changed defect with its step and its one journal entry."""
    defect.version += 1
    defect.save()
    DefectStep(
        defect=defect,
        at=at,
        by=by,
        by_words=f"{by.full_name}, {by.role_label.lower()}",
        before_state=before[0],
        after_state=defect.state,
        before_grade=before[1],
        after_grade=defect.grade,
        words=words,
        photo=photo,
    ).save(force_insert=True)
    write_journal(
        event=event,
        subject=("defect", defect.pk),
        chains=[cart_chain(defect.cart_id)],
        by=by,
        at=at,
        facts={
            "title": defect.title,
            "state": [before[0], defect.state],
            "grade": [before[1], defect.grade],
            "due_on": defect.due_on,
            "words": words,
            "photo": photo.original_sha256 if photo else None,
        },
    )
    return defect


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
) -> Defect:
    """Look at a defect: set its grade, date and person.

    NotAllowed; ChangedMeanwhile; WrongState; DateWanted; RegradeWantsTwo when "do not use" is eased.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager sets a defect's grade.")
    defect = _locked(defect, version)
    _demand(defect, "reported", "assessed", "in_repair")
    before = (defect.state, defect.grade)
    eased = defect.grade == "do_not_use" and grade != "do_not_use"
    if eased:
        _check_easing(defect, second_name, photo, by=by)
    if grade == "by_date" and (due_on is None or due_on < yard_day(at)):
        raise DateWanted(f"Give a day by which {defect.title.lower()} must be repaired, today or later.")
    defect.grade, defect.due_on = grade, due_on if grade == "by_date" else None
    defect.assigned_to = assigned_to
    if defect.state == "reported":
        defect.state = "assessed"
    told = f"{words.strip()} Second person: {second_name.strip()}." if eased else words
    event = Event.DEFECT_REGRADED if eased else Event.DEFECT_LOOKED_AT
    return _step(defect, before, event=event, words=told.strip(), by=by, at=at, photo=photo)


@transaction.atomic
def start_repair(*, defect: Defect, version: int, by: Staff, at: datetime) -> Defect:
    """Start on the job. NotAllowed; ChangedMeanwhile; WrongState."""
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers work on defects.")
    defect = _locked(defect, version)
    _demand(defect, "reported", "assessed")
    if defect.grade == "by_date" and defect.due_on is None:
        raise DateWanted("The workshop manager looks at this first and sets its date.")
    before = (defect.state, defect.grade)
    defect.state, defect.assigned_to = "in_repair", by
    return _step(defect, before, event=Event.REPAIR_STARTED, words="", by=by, at=at)


@transaction.atomic
def record_repair(
    *, defect: Defect, version: int, words: str, by: Staff, at: datetime, photo: Photo | None = None
) -> Defect:
    """Record a repair as done; it waits for a second look and the cart stays as it is.

    NotAllowed; ChangedMeanwhile; WrongState; WordsWanted.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers record repairs.")
    defect = _locked(defect, version)
    _demand(defect, "assessed", "in_repair")
    if not words.strip():
        raise WordsWanted("Write what was done: parts, settings, readings. The next person relies on it.")
    before = (defect.state, defect.grade)
    defect.state, defect.repaired_by, defect.repaired_at, defect.repair_words = (
        "repaired",
        by,
        at,
        words.strip(),
    )
    return _step(defect, before, event=Event.REPAIR_DONE, words=words.strip(), by=by, at=at, photo=photo)


@transaction.atomic
def give_second_look(
    *, defect: Defect, version: int, words: str, by: Staff, at: datetime, photo: Photo | None = None
) -> Defect:
    """Close a defect after somebody else has looked at its repair; this and nothing else frees the cart of it.

    NotAllowed; ChangedMeanwhile; WrongState; SamePerson (the database refuses it too).
    """
    if not by.has_role(WALKERS):
        raise NotAllowed("A second look is given by a yard hand, a fitter or a manager.")
    defect = _locked(defect, version)
    _demand(defect, "repaired")
    if defect.repaired_by_id == by.pk:
        raise SamePerson(
            f"You repaired {defect.title.lower()} on {defect.cart.fleet_number} yourself. Somebody else gives it the second look."
        )
    before = (defect.state, defect.grade)
    defect.state, defect.verified_by, defect.verified_at, defect.closed_at = "verified", by, at, at
    end_limits_of(defect=defect, at=at)
    _listen(defect, at=at)
    return _step(
        defect, before, event=Event.REPAIR_SECOND_LOOK, words=words.strip(), by=by, at=at, photo=photo
    )


@transaction.atomic
def send_back(*, defect: Defect, version: int, words: str, by: Staff, at: datetime) -> Defect:
    """Send a repair back to the job. NotAllowed; ChangedMeanwhile; WrongState; WordsWanted."""
    if not by.has_role(WALKERS):
        raise NotAllowed("A second look is given by a yard hand, a fitter or a manager.")
    defect = _locked(defect, version)
    _demand(defect, "repaired")
    if not words.strip():
        raise WordsWanted("Write what is still wrong, so that the fitter knows where to start.")
    before = (defect.state, defect.grade)
    defect.state = "in_repair"
    return _step(defect, before, event=Event.REPAIR_SENT_BACK, words=words.strip(), by=by, at=at)


@transaction.atomic
def find_no_fault(*, defect: Defect, version: int, words: str, by: Staff, at: datetime) -> Defect:
    """Close a defect as no fault found, saying how it was tested; never by who told it or had it repaired.

    NotAllowed; ChangedMeanwhile; WrongState; StillDoNotUse; WordsWanted; SamePerson.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager closes a defect as no fault found.")
    defect = _locked(defect, version)
    _demand(defect, "reported", "assessed", "in_repair")
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
    end_limits_of(defect=defect, at=at)
    _listen(defect, at=at)
    return _step(defect, before, event=Event.DEFECT_NO_FAULT, words=words.strip(), by=by, at=at)


@transaction.atomic
def isolate(
    *,
    defect: Defect,
    version: int,
    how_isolated: str,
    tag_number: str,
    words: str,
    by: Staff,
    at: datetime,
) -> Limit:
    """Isolate and tag the defect's gear, so that the cart goes with a limit. The defect stays as it is.

    ChangedMeanwhile, and what fleet.actions.limits.set_limit refuses.
    """
    lock_cart(defect.cart)
    defect = _locked(defect, version)
    return set_limit(
        defect=defect, how_isolated=how_isolated, tag_number=tag_number, words=words, by=by, at=at
    )


def _listen(defect: Defect, *, at: datetime) -> None:
    """A cart that became fit may be waiting for its paper: the walk-round that found this is looked at again."""
    if defect.source_kind == "walk_round":
        enqueue(kind="walk_round.signed", subject_id=defect.source_id, at=at)
