"""Holds: a cart tagged out by hand, and freed by hand. Passes and limits, which also stand on a cart by a person's
decision, are told from here too."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.limits import lift_limit, set_limit
from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.actions.passes import close_pass, give_pass
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.models.standing import Hold
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import EVERYBODY, FLEET_ONLY, MANAGERS

__all__ = ["close_pass", "give_pass", "lift_hold", "lift_limit", "place_hold", "set_limit"]


class AlreadyLifted(Refusal):
    """The hold was lifted by somebody already."""


class TagStillHangs(Refusal):
    """The tag is on the cart, so the cart stays held."""


@transaction.atomic
def place_hold(
    *,
    cart: Cart,
    kind: str = "manual",
    reason: str,
    tag_number: str = "",
    is_tag_hung: bool,
    keys_words: str,
    photo: Photo | None = None,
    by: Staff,
    at: datetime,
) -> Hold:
    """Tag a cart out. Anybody of the yard may stop a cart; who may free it is another matter.

    kind: "manual", or "incident" where evidence is kept. The same person's same hold again, while it stands, returns
    the first. NotAllowed; AgainstARule when the reason, or where the keys are, is not said, or a hung tag has no number.
    """
    ask_role(by, EVERYBODY, "Only people of the yard tag a cart out.")
    cart, reason, tag_number = lock_cart(cart), reason.strip(), tag_number.strip()
    standing = cart.holds.filter(lifted_at=None, kind=kind, placed_by=by, reason=reason).first()
    if standing is not None:
        return standing
    if is_tag_hung and not tag_number:
        raise AgainstARule(f"Give the number of the tag on cart {cart.fleet_number}.", field="tag_number")
    hold = Hold(
        cart=cart,
        kind=kind,
        reason=reason,
        tag_number=tag_number,
        is_tag_hung=is_tag_hung,
        keys_words=keys_words.strip(),
        photo=photo,
        placed_at=at,
        placed_by=by,
    )
    check_fields(hold)
    hold.save(force_insert=True)
    write_journal(
        event=Event.HOLD_PLACED,
        subject=("hold", hold.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "kind": kind,
            "reason": reason,
            "tag_number": tag_number,
            "is_tag_hung": is_tag_hung,
            "keys": hold.keys_words,
            "photo": photo.original_sha256 if photo else None,
        },
    )
    return hold


@transaction.atomic
def lift_hold(*, hold: Hold, words: str, is_tag_off: bool, by: Staff, at: datetime) -> Hold:
    """Free a cart of one hold. A manager lifts a manual one, the fleet manager alone an incident's.

    words: what was found and why it may go; is_tag_off: the tag was taken off the cart by the person who says so.
    NotAllowed, AlreadyLifted, TagStillHangs; AgainstARule when nothing is said.
    """
    cart = lock_cart(hold.cart)
    hold = Hold.objects.select_for_update(of=("self",)).select_related("lifted_by").get(pk=hold.pk)
    if hold.kind == "incident":
        ask_role(
            by, FLEET_ONLY, f"Cart {cart.fleet_number} is held for an incident: the fleet manager lifts that."
        )
    ask_role(by, MANAGERS, "A hold is lifted by the workshop manager or the fleet manager.")
    if hold.lifted_by is not None:
        raise AlreadyLifted(
            f"{hold.lifted_by.full_name} lifted this hold of cart {cart.fleet_number} already."
        )
    if hold.is_tag_hung and not is_tag_off:
        raise TagStillHangs(
            f"Take tag {hold.tag_number} off cart {cart.fleet_number} first: while it hangs, the cart stays held.",
            field="is_tag_off",
        )
    if not words.strip():
        raise AgainstARule("Say what was found and why the cart may go.", field="words")
    hold.lifted_at, hold.lifted_by, hold.lifted_words = at, by, words.strip()
    check_fields(hold)
    with rules_of(Hold):
        hold.save(update_fields=["lifted_at", "lifted_by", "lifted_words"])
    write_journal(
        event=Event.HOLD_LIFTED,
        subject=("hold", hold.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "kind": hold.kind,
            "words": hold.lifted_words,
            "tag_number": hold.tag_number,
            "is_tag_off": is_tag_off,
        },
    )
    return hold
