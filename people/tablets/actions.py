"""Changes to shared tablets: enrol one, end one, note who signed in on it, set a PIN."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.db import IntegrityError, transaction

from people.canonical import sha256_hex
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, PIN_HOLDERS
from people.tablets.models import PasswordSignIn, Pin, Tablet
from people.tablets.pin_rules import pin_fault
from people.tablets.tries import forget_tries

TOKEN_BYTES = 32


class TabletNameTaken(Refusal):
    """A tablet in use has this name."""

    field = "name"


class EnrolledAlready(Refusal):
    """The tablet in hand is one of the shared ones."""


class EndedAlready(Refusal):
    """Nothing is left to end."""


class WeakPin(Refusal):
    """The PIN is no PIN, or too easy to guess."""

    field = "pin"


def _check_manager(by: Staff) -> None:
    if not by.has_role(MANAGERS):
        raise NotAllowed("Only the workshop manager and the fleet manager enrol and end tablets.")


@transaction.atomic
def enrol_tablet(*, name: str, here: Tablet | None, by: Staff, at: datetime) -> tuple[Tablet, str]:
    """Make the tablet in hand a shared one. Returns it and its token, which is kept nowhere but on the tablet.

    here: what the tablet is enrolled as already. NotAllowed; EnrolledAlready; TabletNameTaken; ValidationError for no name.
    """
    _check_manager(by)
    if here is not None:
        raise EnrolledAlready(f"This tablet is enrolled already, as {here.name}. End that first.")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    tablet = Tablet(name=name.strip(), token_sha256=sha256_hex(token), enrolled_at=at, enrolled_by=by)
    taken = f"A tablet in use is called {tablet.name}. Choose another name, or end that one first."
    if Tablet.objects.in_use().filter(name__iexact=tablet.name).exists():
        raise TabletNameTaken(taken)
    tablet.clean_fields(exclude=["ended_at", "ended_by", "last_seen_at"])
    try:
        with transaction.atomic():
            tablet.save(force_insert=True)
    except IntegrityError as error:
        raise TabletNameTaken(taken) from error
    write_journal(
        event=Event.TABLET_ENROLLED, subject=("tablet", tablet.pk), by=by, at=at, facts={"name": tablet.name}
    )
    return tablet, token


@transaction.atomic
def end_tablet(*, tablet: Tablet, by: Staff, at: datetime) -> Tablet:
    """End a tablet, lost or given away: its next call finds nobody signed in and no PIN counts on it. EndedAlready."""
    _check_manager(by)
    tablet = Tablet.objects.select_for_update().get(pk=tablet.pk)
    if tablet.ended_at is not None:
        raise EndedAlready(f"The {tablet.name} tablet was ended already. There is nothing left to do.")
    tablet.ended_at, tablet.ended_by = at, by
    tablet.save(update_fields=["ended_at", "ended_by"])
    write_journal(
        event=Event.TABLET_ENDED, subject=("tablet", tablet.pk), by=by, at=at, facts={"name": tablet.name}
    )
    return tablet


@transaction.atomic
def note_password_sign_in(*, tablet: Tablet | None, by: Staff, at: datetime) -> None:
    """Somebody gave their password: what wrong tries at their PIN did is over, and on a shared tablet the PIN counts again."""
    pin = Pin.objects.select_for_update().filter(person=by).first()
    if pin is not None:
        pin.wrong_in_a_row, pin.locked_at = 0, None
        pin.save(update_fields=["wrong_in_a_row", "locked_at"])
        forget_tries(person_id=by.pk)
    if tablet is not None:
        PasswordSignIn.objects.update_or_create(
            tablet=tablet, person=by, defaults={"at": at, "password_mark": by.get_session_auth_hash()}
        )


@transaction.atomic
def set_pin(*, pin: str, by: Staff, at: datetime) -> Pin:
    """Give oneself a PIN, or another one. The caller has made sure of the password. NotAllowed; WeakPin."""
    if not by.has_role(PIN_HOLDERS):
        raise NotAllowed(
            "PINs are for yard hands and fitters, who share tablets. A manager signs in with the password."
        )
    if fault := pin_fault(pin):
        raise WeakPin(fault)
    # Of two at once one waits for the other; a new PIN is nobody's to have guessed wrong.
    Staff.objects.select_for_update(no_key=True).get(pk=by.pk)
    fresh = {"hash": make_password(pin), "set_at": at, "wrong_in_a_row": 0, "locked_at": None}
    row, _ = Pin.objects.update_or_create(person=by, defaults=fresh)
    forget_tries(person_id=by.pk)
    write_journal(event=Event.PIN_SET, subject=("staff", by.pk), by=by, at=at)
    return row
