"""Owners of carts we hire in, and their papers."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from fleet.actions.locks import check_fields, rules_of
from hire.models.owners import Owner, OwnerPaper
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed
from people.roles import DESK

FIELDS = ("name", "contact_name", "phone", "email")


def check_desk(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk hires carts in.")


def _keep(owner: Owner) -> None:
    check_fields(owner)
    with rules_of(Owner):
        owner.save()


@transaction.atomic
def add_owner(*, by: Staff, at: datetime, **typed: str) -> Owner:
    """Put an owner on record. `typed` holds FIELDS. NotAllowed; AgainstARule for a name in use."""
    check_desk(by)
    owner = Owner(**{name: typed[name] for name in FIELDS if name in typed})
    _keep(owner)
    write_journal(
        event=Event.OWNER_ADDED, subject=("owner", owner.pk), by=by, at=at, facts={"name": owner.name}
    )
    return owner


@transaction.atomic
def change_owner(*, owner: Owner, by: Staff, at: datetime, **typed: str) -> Owner:
    """Change an owner's details. NotAllowed; AgainstARule."""
    check_desk(by)
    owner = Owner.objects.select_for_update(of=("self",)).get(pk=owner.pk)
    before = {name: getattr(owner, name) for name in FIELDS}
    for name in FIELDS:
        setattr(owner, name, typed.get(name, before[name]))
    _keep(owner)
    facts = {name: [old, getattr(owner, name)] for name, old in before.items() if getattr(owner, name) != old}
    write_journal(event=Event.OWNER_CHANGED, subject=("owner", owner.pk), by=by, at=at, facts=facts)
    return owner


@transaction.atomic
def record_owner_paper(
    *, owner: Owner, kind: str, number: str, expires_on: date | None, by: Staff, at: datetime
) -> OwnerPaper:
    """Record a paper of an owner; of its kind it counts from now on. NotAllowed; AgainstARule."""
    check_desk(by)
    paper = OwnerPaper(
        owner=owner, kind=kind, number=number, expires_on=expires_on, recorded_at=at, recorded_by=by
    )
    check_fields(paper)
    paper.save(force_insert=True)
    write_journal(
        event=Event.OWNER_PAPER_RECORDED,
        subject=("owner", owner.pk),
        by=by,
        at=at,
        facts={"kind": kind, "number": number, "expires_on": expires_on},
    )
    return paper
