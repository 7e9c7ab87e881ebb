"""Is this the person's PIN? It counts on a shared tablet alone, and on top of their password given there this shift.

A try is counted and committed before the PIN is compared, under a lock on the person's PIN, so that of a hundred guesses at
one moment no more are looked at than of a hundred one after the other.
"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib.auth.hashers import check_password
from django.db import transaction
from django.utils.crypto import constant_time_compare

from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import PIN_HOLDERS
from people.tablets.models import PasswordSignIn, Pin, Tablet
from people.tablets.tries import count_try, forget_tries, seconds_to_wait
from people.yard import yard_policy

MOST_WRONG_IN_A_ROW = 10


class PinRefused(Refusal):
    """No PIN counts here for this person, whatever it is; the sentence says what to do instead."""


class WrongPin(PinRefused):
    """It was looked at, and it is not theirs."""


class PinMustWait(Refusal):
    """Too many tries: this one was not looked at. `seconds` until the next may be."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"Too many wrong PINs. Wait {seconds} seconds, then try again.")
        self.seconds = seconds


def _locked(name: str) -> PinRefused:
    return PinRefused(
        f"Ten wrong PINs in a row: the PIN of {name} is locked. It counts again once {name} signs in with the password."
    )


def password_counts(*, person: Staff, tablet: Tablet, at: datetime) -> PasswordSignIn | None:
    """The person's password sign-in on this tablet, while a PIN may still stand on it."""
    found = PasswordSignIn.objects.filter(tablet=tablet, person=person).first()
    if found is None or found.at + yard_policy().tablet_sign_in_good <= at:
        return None
    return found if constant_time_compare(found.password_mark, person.get_session_auth_hash()) else None


def holds_pin(person: Staff, pin: Pin | None) -> bool:
    return pin is not None and person.has_role(PIN_HOLDERS)


def check_pin(*, person_id: UUID, tablet: Tablet, pin: str, at: datetime) -> tuple[Staff, PasswordSignIn]:
    """The person whose PIN it is, with the password sign-in it stands on. PinRefused; WrongPin; PinMustWait.

    Never inside another transaction: the count must stand whatever becomes of the caller.
    """
    person, sign_in, kept = _counted(person_id, tablet, at=at)
    if check_password(pin, kept.hash) and _right(kept):
        return person, sign_in
    raise _wrong(person, kept, tablet, at=at)


@transaction.atomic(durable=True)
def _counted(person_id: UUID, tablet: Tablet, *, at: datetime) -> tuple[Staff, PasswordSignIn, Pin]:
    """Count one try, or refuse to: nothing is counted that is not looked at."""
    person = Staff.objects.filter(pk=person_id, is_active=True).first()
    if person is None:
        raise PinRefused("That person may not sign in here. The fleet manager sets it right.")
    kept = Pin.objects.select_for_update().filter(person=person).first()
    if kept is None or not holds_pin(person, kept):
        raise PinRefused(f"{person.full_name} has no PIN. Sign in with name and password.")
    if kept.wrong_in_a_row >= MOST_WRONG_IN_A_ROW:
        raise _locked(person.full_name)
    sign_in = password_counts(person=person, tablet=tablet, at=at)
    if sign_in is None:
        raise PinRefused(
            f"{person.full_name} has not signed in with the password on this tablet this shift. Do that first; the PIN counts "
            "after it."
        )
    if seconds := seconds_to_wait(person_id=person.pk, tablet_id=tablet.pk, at=at):
        raise PinMustWait(seconds)
    count_try(person_id=person.pk, tablet_id=tablet.pk, at=at)
    kept.wrong_in_a_row += 1
    kept.save(update_fields=["wrong_in_a_row"])
    return person, sign_in, kept


@transaction.atomic
def _right(tried: Pin) -> bool:
    """Forget the tries. False when the PIN was changed while this one was being compared."""
    kept = Pin.objects.select_for_update().get(pk=tried.pk)
    if kept.hash != tried.hash:
        return False
    kept.wrong_in_a_row = 0
    kept.save(update_fields=["wrong_in_a_row"])
    forget_tries(person_id=kept.person_id)
    return True


@transaction.atomic
def _wrong(person: Staff, tried: Pin, tablet: Tablet, *, at: datetime) -> PinRefused:
    kept = Pin.objects.select_for_update().get(pk=tried.pk)
    name = person.full_name
    if kept.wrong_in_a_row < MOST_WRONG_IN_A_ROW:
        seconds = seconds_to_wait(person_id=person.pk, tablet_id=tablet.pk, at=at)
        then = f"Wait {seconds} seconds, then try again." if seconds else "Try again."
        return WrongPin(f"That is not the PIN of {name}. {then}")
    if kept.locked_at is None:
        kept.locked_at = at
        kept.save(update_fields=["locked_at"])
        write_journal(
            event=Event.PIN_LOCKED,
            subject=("staff", person.pk),
            by=None,
            by_words=f"Somebody at the {tablet.name} tablet",
            at=at,
            facts={"tablet": tablet.pk, "wrong_in_a_row": kept.wrong_in_a_row},
        )
    return _locked(name)
