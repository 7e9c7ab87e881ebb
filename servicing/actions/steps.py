"""What every step on a defect shares: its lock, the states it follows from, and its one row and one journal entry.

The workshop clears; nothing else does. Every action takes the version the person saw, so that two people on one
defect cannot overwrite each other unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.models.defects import Defect, DefectStep, DefectStepPhoto
from fleet.models.photos import Photo
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import Refusal
from servicing.models.jobs import TimeOnJob


class ChangedMeanwhile(Refusal):
    """Somebody else changed this defect after the page was opened."""


class WrongState(Refusal):
    """The step does not follow from where the defect stands."""


class DateWanted(Refusal):
    """A repair by a date needs its date, and not one that has passed."""

    field = "due_on"


class WordsWanted(Refusal):
    """The record would say nothing of what was done."""

    field = "words"


class SamePerson(Refusal):
    """The second look is given by somebody other than the person who did the repair."""


class StillDoNotUse(Refusal):
    """Nobody talks a "do not use" away alone: it is repaired, or its grade is eased by two people first."""


def locked(defect: Defect, version: int) -> Defect:
    found = (
        Defect.objects.select_for_update(of=("self",)).select_related("cart", "repaired_by").get(pk=defect.pk)
    )
    if found.version != version:
        raise ChangedMeanwhile(
            f"{found.title} on {found.cart.fleet_number} was changed by somebody else meanwhile. "
            "Look at how it stands now, then decide again."
        )
    return found


def demand(defect: Defect, *states: str) -> None:
    if defect.state not in states:
        raise WrongState(
            f"{defect.title} on {defect.cart.fleet_number} is “{defect.get_state_display().lower()}” now."
        )


def keep_step(
    defect: Defect,
    before: tuple[str, str],
    *,
    event: Event,
    words: str,
    by: Staff,
    at: datetime,
    photos: Sequence[Photo] = (),
) -> Defect:
    """Save the changed defect with its step, its photos in their order and its one journal entry."""
    defect.version += 1
    defect.save()
    step = DefectStep(
        defect=defect,
        at=at,
        by=by,
        by_words=f"{by.full_name}, {by.role_label.lower()}",
        before_state=before[0],
        after_state=defect.state,
        before_grade=before[1],
        after_grade=defect.grade,
        event=event,
        words=words,
        photo=photos[0] if photos else None,
    )
    step.save(force_insert=True)
    DefectStepPhoto.objects.bulk_create(
        DefectStepPhoto(step=step, photo=photo, place=place)
        for place, photo in enumerate(photos[1:], start=2)
    )
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
            "photos": [photo.original_sha256 for photo in photos],
        },
    )
    return defect


def listen(defect: Defect, *, at: datetime) -> None:
    """A cart that became fit may be waiting for its paper: the walk-round that found this is looked at again."""
    if defect.source_kind == "walk_round":
        enqueue(kind="walk_round.signed", subject_id=defect.source_id, at=at)


def leave_job(defect: Defect, *, at: datetime) -> None:
    """Whoever is still on the job comes off it. Part of the action that ends the job, which journals it."""
    TimeOnJob.objects.filter(defect=defect, ended_at=None).update(ended_at=at)
