"""What the fleet's actions share: the cart's lock, the role asked for, and a constraint's refusal in words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from fleet.models.carts import Cart
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import Role


class AgainstARule(Refusal):
    """A rule the database itself keeps said no: two people were at it at once, or the values cannot stand together."""


def lock_cart(cart: Cart) -> Cart:
    """The cart as it stands now, locked until the transaction ends.

    Whatever changes what is known of a cart takes this lock first, so that changes of one cart come one after the
    other. It leaves rows that merely name the cart free to be written.
    """
    return Cart.objects.select_for_update(of=("self",), no_key=True).get(pk=cart.pk)


def ask_role(by: Staff, roles: frozenset[Role], sentence: str) -> None:
    """NotAllowed with the sentence unless the person has one of the roles."""
    if not by.has_role(roles):
        raise NotAllowed(sentence)


def constraint_of(error: IntegrityError) -> str:
    """The name of the constraint that refused a row; empty when the driver did not say."""
    return getattr(getattr(error.__cause__, "diag", None), "constraint_name", None) or ""


@contextmanager
def rules_of(*tables: type[models.Model]) -> Iterator[None]:
    """Turn a broken named constraint of these tables into AgainstARule with the constraint's own sentence.

    The block is a savepoint, so that the transaction is still good for the caller who catches the refusal.
    """
    sentences = {
        rule.name: str(rule.violation_error_message) for table in tables for rule in table._meta.constraints
    }
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        name = constraint_of(error)
        if name not in sentences:
            raise
        raise AgainstARule(sentences[name], constraint=name) from error


def check_fields(row: models.Model) -> None:
    """Field rules and constraints of one row before it is saved; the first fault is raised as AgainstARule.

    A field that may be unknown and is, is left to the database: the framework takes "unknown" for "left out".
    """
    unknown = {one.attname: one.name for one in row._meta.concrete_fields if one.null and not one.blank}
    leave_out = {name for attname, name in unknown.items() if getattr(row, attname) is None}
    try:
        row.full_clean(exclude=leave_out)
    except ValidationError as error:
        field, sentences = next(iter(error.message_dict.items()))
        known = field if field in {one.name for one in row._meta.get_fields()} else None
        raise AgainstARule(sentences[0], field=known) from error
