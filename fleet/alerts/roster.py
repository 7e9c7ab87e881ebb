"""Putting people on call and taking their turns off again."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.alerts.models import OnCall
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS


class TurnEndsFirst(Refusal):
    """A turn that ends before it starts, or is over already."""

    field = "ends_at"


class PlaceTaken(Refusal):
    """Somebody else is called in that place then, or this person is on call already."""


class NotThere(Refusal):
    """Somebody whose sign-in is switched off cannot be called."""

    field = "person"


def _check(by: Staff) -> None:
    if not by.has_role(MANAGERS):
        raise NotAllowed("Only managers change who is on call.")


def _facts(turn: OnCall) -> dict[str, object]:
    return {
        "person": turn.person_id,
        "from": turn.period.lower,
        "until": turn.period.upper,
        "place": turn.place,
    }


@transaction.atomic
def put_on_call(
    *, person: Staff, starts_at: datetime, ends_at: datetime, place: int, by: Staff, at: datetime
) -> OnCall:
    """A person is called in this place from one moment until another. NotAllowed, NotThere, TurnEndsFirst, PlaceTaken."""
    _check(by)
    if not person.is_active:
        raise NotThere(f"{person.full_name} may not sign in any more. Choose somebody else.")
    if ends_at <= starts_at:
        raise TurnEndsFirst("A turn on call ends after it starts.")
    if ends_at <= at:
        raise TurnEndsFirst("This turn is over already. Choose an end that is to come.")
    turn = OnCall(
        person=person, period=DateTimeTZRange(starts_at, ends_at), place=place, made_at=at, made_by=by
    )
    try:
        with transaction.atomic():
            turn.save(force_insert=True)
    except IntegrityError as error:
        if "alerts_oncall_one_place_each" in str(error):
            raise PlaceTaken(
                f"{person.full_name} is on call already in that time.", field="person"
            ) from error
        raise PlaceTaken("Somebody else has that place in that time.", field="place") from error
    write_journal(event=Event.ON_CALL_ADDED, subject=("on_call", turn.pk), by=by, at=at, facts=_facts(turn))
    return turn


@transaction.atomic
def take_off_call(*, turn: OnCall, by: Staff, at: datetime) -> None:
    """Take a turn off the roster; what it was stays in the journal. NotAllowed."""
    _check(by)
    subject, facts = ("on_call", turn.pk), _facts(turn)
    OnCall.objects.filter(pk=turn.pk).delete()
    write_journal(event=Event.ON_CALL_REMOVED, subject=subject, by=by, at=at, facts=facts)
