"""Changes to people: add, change, end and give access."""

from __future__ import annotations

import re
from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q

from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import MOBILE_WORDS, Staff
from people.refusals import NotAllowed, Refusal
from people.roles import FLEET_ONLY, Role


class WeakPassword(Refusal):
    """The password is too short, too common or too like the name."""

    field = "password"


class NameTaken(Refusal):
    """Somebody signs in with this name already."""

    field = "username"


class NotANumber(Refusal):
    """The mobile number cannot be dialled from another country."""

    field = "mobile"


class NotAnAddress(Refusal):
    """What was given is no email address."""

    field = "email"


class LastFleetManager(Refusal):
    """Nobody would be left who may manage people."""


def _check(by: Staff) -> None:
    if not by.has_role(FLEET_ONLY):
        raise NotAllowed("Only the fleet manager adds or changes people.")


def _reach(person: Staff, email: str, mobile: str) -> None:
    """Set how alerts reach a person. Brackets, dashes and spaces in a number are the writer's own and go."""
    person.email, person.mobile = email.strip(), re.sub(r"[\s().-]", "", mobile)
    if person.mobile and not re.fullmatch(r"\+[1-9][0-9]{7,14}", person.mobile):
        raise NotANumber(MOBILE_WORDS)
    try:
        Staff._meta.get_field("email").clean(person.email, person)
    except ValidationError as error:
        raise NotAnAddress(" ".join(error.messages)) from error


@transaction.atomic
def add_staff(
    *,
    username: str,
    full_name: str,
    role: str,
    password: str,
    email: str = "",
    mobile: str = "",
    by: Staff,
    at: datetime,
) -> Staff:
    """Add a person with a sign-in. NotAllowed; WeakPassword; NameTaken; NotANumber; NotAnAddress; ValidationError for
    what is not a name."""
    _check(by)
    return _add(username, full_name, role, password, email=email, mobile=mobile, by=by, at=at)


def _add(
    username: str,
    full_name: str,
    role: str,
    password: str,
    *,
    email: str,
    mobile: str,
    by: Staff | None,
    at: datetime,
) -> Staff:
    person = Staff(username=username.strip(), full_name=full_name.strip(), role=role)
    person.set_password(password)
    _reach(person, email, mobile)
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise WeakPassword(" ".join(error.messages)) from error
    taken = f"Somebody already signs in as {person.username}. Choose another name."
    if Staff.objects.filter(username__iexact=person.username).exists():
        raise NameTaken(taken)
    person.full_clean()
    try:
        with transaction.atomic():
            person.save(force_insert=True)
    except IntegrityError as error:
        raise NameTaken(taken) from error
    write_journal(
        event=Event.STAFF_ADDED,
        subject=("staff", person.pk),
        by=by,
        by_words="" if by else "The person who set Slake up",
        at=at,
        facts={"username": person.username, "role": role},
    )
    return person


def _locked(person: Staff) -> Staff:
    """The person's row, locked with every fleet manager's: two who end each other at once must not both succeed."""
    wanted = Q(pk=person.pk) | Q(role=Role.FLEET_MANAGER)
    rows = Staff.objects.select_for_update().filter(wanted).order_by("pk")
    return next(row for row in rows if row.pk == person.pk)


def _others_manage(person: Staff) -> bool:
    return Staff.objects.filter(role=Role.FLEET_MANAGER, is_active=True).exclude(pk=person.pk).exists()


@transaction.atomic
def change_staff(
    *,
    person: Staff,
    full_name: str,
    role: str,
    email: str | None = None,
    mobile: str | None = None,
    by: Staff,
    at: datetime,
) -> Staff:
    """Change a person's name, role or ways to reach them (None: as it is), at once for every session.

    LastFleetManager; NotAllowed; NotANumber; NotAnAddress. The journal is for ever, so it says that a number was
    changed and not what it was.
    """
    _check(by)
    person = _locked(person)
    if person.role == Role.FLEET_MANAGER and role != Role.FLEET_MANAGER and not _others_manage(person):
        raise LastFleetManager(
            f"{person.full_name} is the only fleet manager. Give somebody else the role first.", field="role"
        )
    before = {"full_name": person.full_name, "role": person.role}
    reach = {"email": person.email, "mobile": person.mobile}
    person.full_name, person.role = full_name.strip(), role
    _reach(person, person.email if email is None else email, person.mobile if mobile is None else mobile)
    person.full_clean(exclude=["password"])
    person.save(update_fields=["full_name", "role", "email", "mobile"])
    changed = sorted(name for name, was in reach.items() if getattr(person, name) != was)
    write_journal(
        event=Event.STAFF_CHANGED,
        subject=("staff", person.pk),
        by=by,
        at=at,
        facts={"before": before, "after": {"full_name": person.full_name, "role": person.role}}
        | ({"reached_otherwise": changed} if changed else {}),
    )
    return person


@transaction.atomic
def set_access(*, person: Staff, is_active: bool, by: Staff, at: datetime) -> Staff:
    """End a person's access, which ends their sessions with the next click, or give it again."""
    _check(by)
    person = _locked(person)
    if not is_active and person.role == Role.FLEET_MANAGER and not _others_manage(person):
        raise LastFleetManager(
            f"{person.full_name} is the only fleet manager. Give somebody else the role first."
        )
    person.is_active = is_active
    person.save(update_fields=["is_active"])
    write_journal(
        event=Event.STAFF_ENABLED if is_active else Event.STAFF_DISABLED,
        subject=("staff", person.pk),
        by=by,
        at=at,
    )
    return person


class YardHasManager(Refusal):
    """The first fleet manager is there already; they add everybody else."""


@transaction.atomic
def add_first_manager(
    *, username: str, full_name: str, password: str, email: str = "", mobile: str = "", at: datetime
) -> Staff:
    """Add the yard's first fleet manager, who adds everybody else. YardHasManager; WeakPassword."""
    if Staff.objects.filter(role=Role.FLEET_MANAGER, is_active=True).exists():
        raise YardHasManager("There is a fleet manager already. They add people on the People page.")
    return _add(username, full_name, Role.FLEET_MANAGER, password, email=email, mobile=mobile, by=None, at=at)
