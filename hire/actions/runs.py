"""What is written down for the driver of a run."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, time

from django.db import transaction

from fleet.actions.locks import AgainstARule, check_fields
from hire.models.agreements import Line
from hire.models.runs import LEGS, RunNote
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class RunOver(Refusal):
    """The cart has left on this run, is back from it, or the hire is cancelled: nobody reads this any more."""


@dataclass(frozen=True)
class RunWords:
    """start: when work starts, by the clock of the place of work. Empty: not known yet."""

    driver_words: str = ""
    start: time | None = None
    contact_words: str = ""
    channel_words: str = ""
    water_point_words: str = ""
    float_words: str = ""
    words: str = ""


def _check_to_come(line: Line, leg: str) -> None:
    cart, hire = line.cart.fleet_number, line.agreement.number
    if line.cancelled_at is not None:
        raise RunOver(f"The hire of {cart} on {hire} is cancelled.")
    if line.back_at is not None:
        raise RunOver(f"{cart} is back from {hire}.")
    if leg == "out" and line.handed_over_at is not None:
        raise RunOver(f"{cart} has left on {hire}. Write down its way back instead.")


@transaction.atomic
def note_run(*, line: Line, leg: str, typed: RunWords, by: Staff, at: datetime) -> RunNote:
    """Write down, or put right, what the driver of a run has to know. leg: "out" or "back". The same again writes nothing.
    NotAllowed; RunOver; AgainstARule for another leg."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk fills in the run sheet.")
    if leg not in dict(LEGS):
        raise AgainstARule("A run goes to the work or back to the yard.")
    line = Line.objects.locked(line.pk)
    _check_to_come(line, leg)
    note = RunNote.objects.filter(line=line, leg=leg).first() or RunNote(line=line, leg=leg)
    wanted = {
        name: value.strip() if isinstance(value, str) else value for name, value in asdict(typed).items()
    }
    changed = {
        name: [getattr(note, name), value] for name, value in wanted.items() if getattr(note, name) != value
    }
    if not changed and note.noted_at is not None:
        return note
    for name, value in wanted.items():
        setattr(note, name, value)
    note.noted_at, note.noted_by = at, by
    check_fields(note)
    note.save()
    write_journal(
        event=Event.RUN_NOTED,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "leg": leg, **changed},
    )
    return note
