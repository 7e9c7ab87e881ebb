"""The job itself: begun, done, looked at by somebody else, or sent back; and what becomes of a temporary fix."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from fleet.actions.defects import tell_defect
from fleet.actions.limits import end_limits_of, set_limit
from fleet.actions.locks import lock_cart
from fleet.models.defects import MOST_PHOTOS, Defect
from fleet.models.photos import Photo
from fleet.models.standing import Limit
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS, WORKSHOP
from people.templatetags.screen import day_year
from people.yard import yard_day
from servicing.actions.steps import (
    DateWanted,
    SamePerson,
    WordsWanted,
    WrongState,
    demand,
    keep_step,
    leave_job,
    listen,
    locked,
)

TEMPORARY_FIX = "temporary_fix"


class StillPutOff(Refusal):
    """The defect is put off, and its day has not come."""


class FixNotTemporary(Refusal):
    """A "do not use" is repaired for good, or its grade is eased by two people first."""

    field = "fix_ends_on"


class TooManyPhotos(Refusal):
    """More photos came of a repair than are kept of one."""

    field = "photos"


class FixEnded(Refusal):
    """A temporary fix whose last day has passed frees no cart."""


def _check_temporary(defect: Defect, ends_on: date, *, at: datetime) -> None:
    if defect.grade == "do_not_use":
        raise FixNotTemporary(
            f"{defect.title} on {defect.cart.fleet_number} is “do not use”: it is repaired for good, or the workshop manager "
            "first eases its grade with a second named person and a fresh photo."
        )
    if ends_on <= yard_day(at):
        raise DateWanted("Give the last day of the temporary fix, after today.", field="fix_ends_on")


@transaction.atomic
def start_repair(*, defect: Defect, version: int, by: Staff, at: datetime) -> Defect:
    """Start on the job. NotAllowed; ChangedMeanwhile; WrongState."""
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers work on defects.")
    defect = locked(defect, version)
    demand(defect, "reported", "assessed", "put_off")
    if defect.put_off_until is not None and defect.state == "put_off" and defect.put_off_until > yard_day(at):
        raise StillPutOff(
            f"{defect.title} on {defect.cart.fleet_number} is put off until {day_year(defect.put_off_until)}. "
            "The workshop manager looks at it again before it is begun."
        )
    if defect.grade == "by_date" and defect.due_on is None:
        raise DateWanted("The workshop manager looks at this first and sets its date.")
    before = (defect.state, defect.grade)
    defect.state, defect.assigned_to = "in_repair", by
    return keep_step(defect, before, event=Event.REPAIR_STARTED, words="", by=by, at=at)


@transaction.atomic
def record_repair(
    *,
    defect: Defect,
    version: int,
    words: str,
    by: Staff,
    at: datetime,
    photos: Sequence[Photo] = (),
    fix_ends_on: date | None = None,
) -> Defect:
    """Record a repair as done; it waits for a second look. Until then the cart stays as it is, but for what
    fleet.holding.unseen_until lets work on. Whoever is on the job comes off it.

    photos: after the repair, in order, each once; none lets no cart work on unseen.
    fix_ends_on: the last day of a temporary fix, after which the defect is told again; never for "do not use".
    NotAllowed; ChangedMeanwhile; WrongState; WordsWanted; TooManyPhotos; FixNotTemporary; DateWanted.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers record repairs.")
    defect = locked(defect, version)
    demand(defect, "assessed", "in_repair")
    if not words.strip():
        raise WordsWanted("Write what was done: parts, settings, readings. The next person relies on it.")
    photos = list(dict.fromkeys(photos))
    if len(photos) > MOST_PHOTOS:
        raise TooManyPhotos(
            f"{len(photos)} photos came of the repair of {defect.title.lower()} on {defect.cart.fleet_number}, "
            f"and {MOST_PHOTOS} are kept. Leave some out."
        )
    if fix_ends_on is not None:
        _check_temporary(defect, fix_ends_on, at=at)
    before = (defect.state, defect.grade)
    defect.fix_ends_on = fix_ends_on
    leave_job(defect, at=at)
    defect.state, defect.repaired_by, defect.repaired_at, defect.repair_words = (
        "repaired",
        by,
        at,
        words.strip(),
    )
    return keep_step(
        defect, before, event=Event.REPAIR_DONE, words=words.strip(), by=by, at=at, photos=photos
    )


@transaction.atomic
def give_second_look(
    *, defect: Defect, version: int, words: str, by: Staff, at: datetime, photo: Photo | None = None
) -> Defect:
    """Close a defect after somebody else has looked at its repair; this and nothing else frees the cart of it.

    NotAllowed; ChangedMeanwhile; WrongState; SamePerson (the database refuses it too).
    """
    if not by.has_role(WALKERS):
        raise NotAllowed("A second look is given by a yard hand, a fitter or a manager.")
    defect = locked(defect, version)
    demand(defect, "repaired")
    if defect.repaired_by_id == by.pk:
        raise SamePerson(
            f"You repaired {defect.title.lower()} on {defect.cart.fleet_number} yourself. Somebody else gives it the second look."
        )
    if defect.fix_ends_on is not None and defect.fix_ends_on < yard_day(at):
        raise FixEnded(
            f"The temporary fix of {defect.title.lower()} on {defect.cart.fleet_number} ended on "
            f"{day_year(defect.fix_ends_on)}. Send it back to the job."
        )
    before = (defect.state, defect.grade)
    defect.state, defect.verified_by, defect.verified_at, defect.closed_at = "verified", by, at, at
    end_limits_of(defect=defect, at=at)
    listen(defect, at=at)
    return keep_step(
        defect,
        before,
        event=Event.REPAIR_SECOND_LOOK,
        words=words.strip(),
        by=by,
        at=at,
        photos=[photo] if photo else [],
    )


@transaction.atomic
def send_back(*, defect: Defect, version: int, words: str, by: Staff, at: datetime) -> Defect:
    """Send a repair back to the job. NotAllowed; ChangedMeanwhile; WrongState; WordsWanted."""
    if not by.has_role(WALKERS):
        raise NotAllowed("A second look is given by a yard hand, a fitter or a manager.")
    defect = locked(defect, version)
    demand(defect, "repaired")
    if not words.strip():
        raise WordsWanted("Write what is still wrong, so that the fitter knows where to start.")
    before = (defect.state, defect.grade)
    defect.state, defect.fix_ends_on = "in_repair", None
    return keep_step(defect, before, event=Event.REPAIR_SENT_BACK, words=words.strip(), by=by, at=at)


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
    defect = locked(defect, version)
    return set_limit(
        defect=defect, how_isolated=how_isolated, tag_number=tag_number, words=words, by=by, at=at
    )


@transaction.atomic
def end_temporary_fix(*, defect: Defect, by: Staff | None, at: datetime) -> Defect:
    """Tell the defect behind a temporary fix again, at its end or, by a person, before it. Once: again returns the first.

    NotAllowed; WrongState when it is no closed temporary fix, or nobody asks and its last day has not passed.
    """
    if by is not None and not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers end a temporary fix.")
    cart = lock_cart(defect.cart)
    defect = Defect.objects.select_related("cart").get(pk=defect.pk)
    ends_on = defect.fix_ends_on
    if ends_on is None or defect.state != "verified" or (by is None and ends_on >= yard_day(at)):
        raise WrongState(f"{defect.title} on {cart.fleet_number} is no temporary fix that ends now.")
    return tell_defect(
        cart=cart,
        title=defect.title,
        words=f"Only a temporary fix was made, good until {day_year(ends_on)}: {defect.repair_words}",
        station=defect.station,
        place=defect.place,
        grade=defect.grade,
        source=(TEMPORARY_FIX, defect.pk),
        by=by,
        by_words="" if by else "The end of a temporary fix",
        at=at,
        check_key=defect.check_key,
        gear=defect.gear,
        second_look_always=defect.second_look_always,
        may_be_passed=defect.may_be_passed,
    )
