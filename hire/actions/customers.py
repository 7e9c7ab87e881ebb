"""Customers in the book."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from hire.models.customers import Customer
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

FIELDS = ("name", "contact_name", "phone", "email", "address", "is_stopped", "asks_order_number")


class CustomerRefused(Refusal):
    """The customer cannot be kept as typed; the sentence says why."""


def _keep(customer: Customer) -> None:
    try:
        customer.full_clean()
    except ValidationError as error:
        raise CustomerRefused(" ".join(error.messages)) from error
    try:
        with transaction.atomic():
            customer.save()
    except IntegrityError as error:
        raise CustomerRefused("A customer with this name was put in the book this very moment.") from error


@transaction.atomic
def add_customer(*, by: Staff, at: datetime, **typed: str | bool) -> Customer:
    """Put a customer in the book. `typed` holds FIELDS. NotAllowed; CustomerRefused for a name in use."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk keeps the customers' book.")
    customer = Customer(**{name: typed[name] for name in FIELDS if name in typed})
    _keep(customer)
    write_journal(
        event=Event.CUSTOMER_ADDED,
        subject=("customer", customer.pk),
        by=by,
        at=at,
        facts={"name": customer.name},
    )
    return customer


@transaction.atomic
def change_customer(*, customer: Customer, by: Staff, at: datetime, **typed: str | bool) -> Customer:
    """Change a customer's details. NotAllowed; CustomerRefused."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk keeps the customers' book.")
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    before = {name: getattr(customer, name) for name in FIELDS}
    for name in FIELDS:
        setattr(customer, name, typed.get(name, before[name]))
    _keep(customer)
    changed = [name for name in FIELDS if getattr(customer, name) != before[name]]
    write_journal(
        event=Event.CUSTOMER_CHANGED,
        subject=("customer", customer.pk),
        by=by,
        at=at,
        facts={name: [before[name], getattr(customer, name)] for name in changed},
    )
    return customer
