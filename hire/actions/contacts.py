"""The customer's people in the book. What somebody may no longer see is closed to them at once."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from hire.actions.links import revoke_link
from hire.models.contacts import Contact, Letter
from hire.models.customers import Customer
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

FIELDS = ("name", "phone", "email", "rights", "gets_papers")


class ContactRefused(Refusal):
    """The contact cannot be kept as typed; the sentence says why."""


class ContactEnded(Refusal):
    """The contact has left the customer."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk keeps the customers' book.")


def _keep(contact: Contact) -> None:
    try:
        contact.full_clean()
    except ValidationError as error:
        raise ContactRefused(" ".join(error.messages)) from error
    try:
        with transaction.atomic():
            contact.save()
    except IntegrityError as error:
        raise ContactRefused("A contact of this name was put in the book this very moment.") from error


def _write(event: Event, contact: Contact, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("customer", contact.customer_id),
        by=by,
        at=at,
        facts={"contact": contact.pk, "name": contact.name, "rights": contact.rights} | facts,
    )


@transaction.atomic
def add_contact(*, customer: Customer, by: Staff, at: datetime, **typed: str | bool) -> Contact:
    """Put one of a customer's people in the book. `typed` holds FIELDS. NotAllowed; ContactRefused."""
    _check(by)
    contact = Contact(
        customer=customer, made_at=at, made_by=by, **{name: typed[name] for name in FIELDS if name in typed}
    )
    _keep(contact)
    _write(Event.CONTACT_ADDED, contact, by=by, at=at)
    return contact


def _close_links(contact: Contact, *, by: Staff, at: datetime) -> None:
    letters = Letter.objects.filter(contact=contact, link__revoked_at=None)
    links = {letter.link_id: letter.link for letter in letters.select_related("link__line")}
    # In the order of their carts' chains, as everybody takes them.
    for link in sorted(links.values(), key=lambda one: cart_chain(one.line.cart_id)):
        revoke_link(link=link, by=by, at=at)


def _locked(contact: Contact) -> Contact:
    contact = Contact.objects.select_for_update(of=("self",)).select_related("customer").get(pk=contact.pk)
    if contact.ended_at is not None:
        raise ContactEnded(f"{contact.name} is no longer with {contact.customer.name}.")
    return contact


@transaction.atomic
def change_contact(*, contact: Contact, by: Staff, at: datetime, **typed: str | bool) -> Contact:
    """Change a contact's details. New rights, or a new address, close the links that were sent before. NotAllowed; ContactEnded;
    ContactRefused."""
    _check(by)
    contact = _locked(contact)
    before = {name: getattr(contact, name) for name in FIELDS}
    for name in FIELDS:
        setattr(contact, name, typed.get(name, before[name]))
    _keep(contact)
    changed = [name for name in FIELDS if getattr(contact, name) != before[name]]
    if {"rights", "email"} & set(changed):
        _close_links(contact, by=by, at=at)
    _write(
        Event.CONTACT_CHANGED, contact, by=by, at=at,
        changed={name: [before[name], getattr(contact, name)] for name in changed},
    )  # fmt: skip
    return contact


@transaction.atomic
def end_contact(*, contact: Contact, by: Staff, at: datetime) -> Contact:
    """Somebody is no longer a customer's: the links sent to them open nothing from now on. NotAllowed; ContactEnded."""
    _check(by)
    contact = _locked(contact)
    contact.ended_at = at
    contact.save(update_fields=["ended_at"])
    _close_links(contact, by=by, at=at)
    _write(Event.CONTACT_ENDED, contact, by=by, at=at)
    return contact
