"""Ready rows and words for the workshop's screens."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.urls import reverse

from fleet.drawing import place_words
from fleet.lap.stations import station
from fleet.models.defects import Defect, DefectStep
from fleet.models.photos import Photo
from people.models import Staff
from people.templatetags.screen import clock_words, day, span_words
from people.yard import yard_day
from servicing import offers
from servicing.queue import REPAIR_PRIOR
from servicing.returning import CameBack, came_back
from servicing.waiting import Own, Queue

_EVENT_STEP = {
    "fleet.defect.put_off": "Put off",
    "fleet.defect.assigned": "Whose job it is",
    "fleet.defect.same_as": "Closed: the same as another",
}
_STATE_STEP = {
    "assessed": "Looked at",
    "in_repair": "Started on the job",
    "repaired": "Done, waiting for a second look",
    "verified": "Second look given: it is sound",
    "no_fault_found": "No fault found",
}
_GRADE_WORDS = {"do_not_use": "do not use", "by_date": "repair by a date", "watch": "watch"}


@dataclass(frozen=True)
class QueueRow:
    """One line of the queue. left and repair feed its time-in-hand line and inputs open it; out_words stand in its place for
    a cart at work. key: what its tick posts, the defect and the version that was seen."""

    defect: Defect
    where: str
    left: timedelta | None
    repair: timedelta
    inputs: list[str]
    out_words: str
    came_back: CameBack | None
    key: str
    state_words: str
    by_words: str
    next_word: str
    next_anchor: str


def past_day_words(moment: datetime, *, at: datetime) -> str:
    """A day just gone by its name, one further back by its date: "today", "yesterday", "Tuesday", "Tue 4 Aug"."""
    back = (yard_day(at) - yard_day(moment)).days
    if back == 0:
        return "today"
    if back == 1:
        return "yesterday"
    return f"{yard_day(moment):%A}" if 1 < back < 7 else day(moment)


def state_words(defect: Defect, *, at: datetime) -> str:
    """How a defect stands, as it is said: "told Tuesday", "on the job, Ines Whelan"."""
    if defect.state == "reported":
        return f"told {past_day_words(defect.told_at, at=at)}"
    if defect.state == "assessed":
        return (
            f"looked at, for {defect.assigned_to.full_name}"
            if defect.assigned_to
            else "looked at, nobody named yet"
        )
    if defect.state == "put_off":
        return f"put off until {day(defect.put_off_until)}, because: {defect.put_off_because}"
    if defect.state == "in_repair":
        return f"on the job, {defect.assigned_to.full_name}" if defect.assigned_to else "on the job"
    if defect.state == "repaired":
        who = f" by {defect.repaired_by.full_name}" if defect.repaired_by else ""
        until = f", a fix until {day(defect.fix_ends_on)}" if defect.fix_ends_on else ""
        return f"done{who}{until}, waiting for a second look"
    closed = past_day_words(defect.closed_at, at=at) if defect.closed_at else ""
    if defect.state == "verified":
        who = f" by {defect.verified_by.full_name}" if defect.verified_by else ""
        return f"second look given{who}, {closed}"
    if defect.state == "same_as":
        return f"the same as another, {closed}"
    return f"no fault found, {closed}"


def where_words(defect: Defect) -> str:
    """The place on the cart: "Left rear wheels, 2LO"."""
    return ", ".join(part for part in (station(defect.station).label, place_words(defect.place)) if part)


PRIOR_WORDS = "common practice, no source"


def hand_inputs(queue: Queue, defect: Defect, left: timedelta | None) -> list[str]:
    """What a time-in-hand line was reckoned from, in sentences: wanted when and by whom, and what the repair takes."""
    need = queue.needs.get(defect.cart_id)
    wanted = "Nobody waits for it."
    if need is not None and left is not None:
        when = queue.at + left
        since = "Missed since" if need.is_out else "Next wanted"
        wanted = f"{since} {day(when)}, {clock_words(when)}, by {need.label}."
    usual = span_words(REPAIR_PRIOR[defect.grade])
    own = queue.times.get((defect.grade, defect.check_key))
    if own is None:
        return [wanted, f"Repair {usual}: {PRIOR_WORDS}. No repair of this check is on record here."]
    return [
        wanted,
        f"Repair {span_words(queue.repair_of(defect))}: {past_words(own)}.",
        f"Without them it would be {usual}: {PRIOR_WORDS}.",
    ]


def past_words(own: Own) -> str:
    """What stands behind an expected repair time: "from 7 past repairs of this check here, the middle half 50 min to 2 h"."""
    past = "1 past repair" if own.repairs == 1 else f"{own.repairs} past repairs"
    if own.low_minutes is None or own.high_minutes is None:
        return f"from {past} of this check here"
    low, high = (span_words(timedelta(minutes=one)) for one in (own.low_minutes, own.high_minutes))
    return f"from {past} of this check here, the middle half {low} to {high}"


def queue_rows(
    queue: Queue, places: Iterable[tuple[UUID, datetime | None]], *, person: Staff
) -> list[QueueRow]:
    """The rows of these places of the queue."""
    rows, on = [], yard_day(queue.at)
    for defect, left in queue.load(places):
        can = offers.offers_for(defect, person, on=on)
        rows.append(
            QueueRow(
                defect=defect,
                where=where_words(defect),
                left=left,
                repair=queue.repair_of(defect),
                inputs=hand_inputs(queue, defect, left),
                out_words=queue.out_words(defect),
                came_back=came_back(defect),
                key=f"{defect.pk}:{defect.version}",
                state_words=state_words(defect, at=queue.at),
                by_words=day(defect.due_on) if defect.due_on else "",
                next_word=offers.next_word(defect, person, on=on),
                next_anchor=f"#{can[0].key}" if can else "",
            )
        )
    return rows


def photo_rows(photos: Sequence[Photo], *, alt: str) -> list[dict[str, str]]:
    return [
        {
            "url": reverse("fleet:photo", args=[photo.pk]),
            "alt": alt,
            "caption": f"Taken in {day(photo.received_at)}, {clock_words(photo.received_at)}",
            "taken": f"Camera’s own clock: {photo.taken_words}" if photo.taken_words else "",
            "short_hash": photo.original_sha256[:12],
        }
        for photo in photos
    ]


def _step_what(step: DefectStep) -> str:
    if not step.before_state:
        return f"Told: {_GRADE_WORDS[step.after_grade]}"
    if step.before_state == "repaired" and step.after_state == "in_repair":
        return "Sent back to the job"
    if step.before_grade and step.before_grade != step.after_grade:
        return f"Grade changed from “{_GRADE_WORDS[step.before_grade]}” to “{_GRADE_WORDS[step.after_grade]}”"
    if step.event in _EVENT_STEP:
        return _EVENT_STEP[step.event]
    if step.before_state == step.after_state:
        return "Looked at again"
    return _STATE_STEP[step.after_state]


def step_rows(steps: Sequence[DefectStep]) -> list[dict[str, object]]:
    """What happened to a defect, oldest first, for components/steps.html (steps with their photos loaded)."""
    return [
        {
            "what": _step_what(step),
            "who_when": f"{step.by_words}, {day(step.at)}, {clock_words(step.at)}",
            "words": step.words,
            "photos": photo_rows(step.photos, alt=f"{_step_what(step)}: a photo kept with this step")
            if step.before_state
            else [],
        }
        for step in steps
    ]


MINUTE = timedelta(minutes=1)
QUEUE_HEAD = (
    "Cart", "What", "Where", "Grade", "Repair by", "Stands", "Whose job", "Told", "Missed from",
    "Repair, minutes", "Time in hand, minutes",
)  # fmt: skip


def queue_table(queue: Queue) -> Iterator[tuple[object, ...]]:
    """Every defect of the queue in its order, for a file."""
    for defect, left in queue.load(queue.places):
        repair = queue.repair_of(defect)
        yield (
            defect.cart.fleet_number, defect.title, where_words(defect), defect.get_grade_display(), defect.due_on,
            state_words(defect, at=queue.at), defect.assigned_to.full_name if defect.assigned_to else "", defect.told_at,
            None if left is None else queue.at + left, repair // MINUTE, None if left is None else (left - repair) // MINUTE,
        )  # fmt: skip
