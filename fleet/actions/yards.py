"""Yards, and carts that go from one to another for good."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import ask_role, check_fields, lock_cart, rules_of
from fleet.actions.put_away import end_put_away
from fleet.models.carts import Cart
from fleet.models.yards import Yard
from fleet.needs import next_need
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import DESK, FLEET_ONLY, MANAGERS

FIELDS = ("name", "address", "phone")


class AlreadyHome(Refusal):
    """The cart is of that yard already."""

    field = "to"


class NotThereYet(Refusal):
    """The cart is out on a hire, so it does not stand in the other yard."""

    field = "is_there"


def _keep(yard: Yard) -> None:
    check_fields(yard)
    with rules_of(Yard):
        yard.save()


@transaction.atomic
def add_yard(*, by: Staff, at: datetime, **typed: str) -> Yard:
    """Put a yard on record; `typed` holds FIELDS. Carts that name it as their home are its carts. NotAllowed; AgainstARule for a
    name in use."""
    ask_role(by, FLEET_ONLY, "Only the fleet manager adds a yard.")
    yard = Yard(**{name: typed[name].strip() for name in FIELDS if name in typed})
    _keep(yard)
    facts = {name: getattr(yard, name) for name in FIELDS}
    write_journal(event=Event.YARD_ADDED, subject=("yard", yard.pk), by=by, at=at, facts=facts)
    return yard


@transaction.atomic
def change_yard(*, yard: Yard, by: Staff, at: datetime, **typed: str) -> Yard:
    """Change a yard's details; under a new name its carts stay its carts. NotAllowed; AgainstARule."""
    ask_role(by, FLEET_ONLY, "Only the fleet manager changes a yard.")
    yard = Yard.objects.select_for_update(of=("self",)).get(pk=yard.pk)
    before = {name: getattr(yard, name) for name in FIELDS}
    for name in FIELDS:
        setattr(yard, name, typed.get(name, before[name]).strip())
    _keep(yard)
    after = {name: getattr(yard, name) for name in FIELDS}
    if after["name"] != before["name"]:
        Cart.objects.filter(home_yard=before["name"]).update(home_yard=after["name"])
    facts = {name: [old, after[name]] for name, old in before.items() if after[name] != old}
    write_journal(event=Event.YARD_CHANGED, subject=("yard", yard.pk), by=by, at=at, facts=facts)
    return yard


@transaction.atomic
def transfer_cart(*, cart: Cart, to: Yard, is_there: bool, words: str, by: Staff, at: datetime) -> Cart:
    """Make another yard a cart's home. is_there: it stands there now, so it has moved and its pre-hire check no longer holds; else
    it stays where it is until somebody records its move. NotAllowed; AlreadyHome; NotThereYet."""
    ask_role(by, MANAGERS | DESK, "The hire desk or a manager sends a cart to another yard.")
    # The yard before its carts, as a new name of it does.
    to = Yard.objects.select_for_update(of=("self",)).get(pk=to.pk)
    cart = lock_cart(cart)
    if cart.home_yard == to.name:
        raise AlreadyHome(f"Cart {cart.fleet_number} is at home in {to.name} already. Choose another yard.")
    need = next_need([cart], at=at).get(cart.pk) if is_there else None
    if need is not None and need.is_out:
        raise NotThereYet(
            f"Cart {cart.fleet_number} is out on {need.label}: it does not stand in {to.name}. Leave that out, or record it back."
        )
    was, before = cart.home_yard, cart.where_sentence
    cart.home_yard = to.name
    if is_there:
        cart.where_kind, cart.where_words, cart.last_moved_at = "yard", to.name, at
        end_put_away(cart, at=at)
    cart.save(update_fields=["home_yard", "where_kind", "where_words", "last_moved_at"])
    write_journal(
        event=Event.CART_TRANSFERRED,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={
            "cart": cart.fleet_number,
            "from": was,
            "to": to.name,
            "before": before,
            "is_there": is_there,
            "words": words,
        },
    )
    return cart
