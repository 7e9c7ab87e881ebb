"""Putting a cart away: locked, its keys in. It stands so until it moves, or its keys change hands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.models.standing import PutAway
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import EVERYBODY

UNDER_WAY = {"road", "float"}


class NotStanding(Refusal):
    """A cart under way is not put away."""


@transaction.atomic
def put_away(*, cart: Cart, keys_words: str, by: Staff, at: datetime) -> PutAway:
    """Record that a cart is put away locked, and where its keys are. Anybody of the yard may; each time is a row of its own.

    Keys put elsewhere than they were changed hands: what was said before ends. NotAllowed; NotStanding for a cart on the road or on
    a float; AgainstARule where it is not said where the keys are.
    """
    ask_role(by, EVERYBODY, "Only people of the yard put a cart away.")
    cart, keys_words = lock_cart(cart), keys_words.strip()
    if cart.where_kind in UNDER_WAY:
        raise NotStanding(
            f"Cart {cart.fleet_number} is {cart.get_where_kind_display().lower()} on record. Record where it stands first."
        )
    said = PutAway(cart=cart, keys_words=keys_words, said_at=at, said_by=by)
    check_fields(said)
    if keys_words != cart.keys_words:
        end_put_away(cart, at=at)
        cart.keys_words = keys_words
        cart.save(update_fields=["keys_words"])
    with rules_of(PutAway):
        said.save(force_insert=True)
    write_journal(
        event=Event.CART_PUT_AWAY,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"where": cart.where_sentence, "keys": keys_words},
    )
    return said


def end_put_away(cart: Cart, *, at: datetime) -> None:
    """The cart moves, or its keys change hands: it is put away no more. Part of another action: writes no journal entry."""
    PutAway.objects.filter(cart=cart, ended_at=None, said_at__lte=at).update(ended_at=at)
