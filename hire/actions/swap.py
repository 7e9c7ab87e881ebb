"""A broken cart replaced on its hire, in one action: the old line is called off, the new one promised for the rest."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.carts import move_cart
from fleet.models.carts import Cart
from fleet.sentences import past_words
from hire.actions.agreements import promise_cart
from hire.actions.needs import keep_needs
from hire.actions.off_hire import PickUp, check_moment, keep_until_fetched, lock_to_call_off, next_number
from hire.actions.wet import follow_swap
from hire.models.agreements import Line
from hire.models.links import SiteCode
from hire.models.off_hire import OffHire
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class SameCart(Refusal):
    """A cart is not swapped for itself."""

    field = "cart"


class CartOut(Refusal):
    """The other cart is out on a hire; the sentence names it."""

    field = "cart"


class NothingLeft(Refusal):
    """The hire was to end by now: how long it goes on is asked, or the answer is no time to come."""

    field = "expected_back"


def _ends_at(line: Line, expected_back: datetime | None, *, at: datetime) -> datetime:
    """Until when the other cart is promised: the end told, else the end promised, which must be to come."""
    was = line.promised.upper
    if expected_back is None and was <= at:
        raise NothingLeft(
            f"{line.cart.fleet_number} was expected back {past_words(was, at=at)}. Say until when the hire goes on: the other "
            "cart is promised to then."
        )
    if expected_back is not None and expected_back <= at:
        raise NothingLeft(
            f"That has passed already: {past_words(expected_back, at=at)}. Say when the other cart is expected back."
        )
    return expected_back or was


def _check_other(line: Line, cart: Cart) -> None:
    if cart.pk == line.cart_id:
        raise SameCart(f"{cart.fleet_number} is the cart that is out on this hire. Choose another one.")
    # Both carts in one order, so that two actions on the same two carts never wait for each other.
    list(Cart.objects.select_for_update(of=("self",)).filter(pk__in=[cart.pk, line.cart_id]).order_by("pk"))
    if out := Line.objects.out_now().filter(cart=cart).for_list().first():
        raise CartOut(
            f"{cart.fleet_number} is out on {out.agreement.number} for {out.agreement.customer.name}. Choose another cart."
        )


def _same_site_code(line: Line, new: Line, *, by: Staff, at: datetime) -> None:
    """The drivers' code opens the new cart's plate too: nobody has to be told another one."""
    if code := SiteCode.objects.filter(line=line).first():
        SiteCode(line=new, code_hash=code.code_hash, made_at=at, made_by=by).save(force_insert=True)


@transaction.atomic
def swap_cart(
    *,
    line: Line,
    cart: Cart,
    swapped_at: datetime,
    called_by_words: str,
    why: str,
    pick_up: PickUp,
    expected_back: datetime | None = None,
    by: Staff,
    at: datetime,
) -> Line:
    """Replace the cart of a hire for the rest of its period and return the new line, which goes through the gate like any
    other. swapped_at stops the charge of the broken cart, whatever the hour. The customer's links open the new line.
    expected_back: until when the other cart is promised; None for the end of the hire, which a late one has behind it. What the
    broken cart is promised for stays as it is; it is kept until it is fetched.

    NotAllowed; NotOnHire; AlreadyOffHired; NotThen; SameCart; CartOut; NothingLeft; CartNotInFleet;
    NotForDrinkingWater; CartPromised; TankSpoilt; AlreadyPencilled.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk swaps carts.")
    line = lock_to_call_off(line, at=at)
    check_moment(swapped_at, line, at=at, field="swapped_at")
    ends_at = _ends_at(line, expected_back, at=at)
    _check_other(line, cart)
    new = promise_cart(line.agreement, cart, swapped_at, ends_at, at)
    keep_needs(new, line.needs)
    call = OffHire(
        line=line,
        number=next_number(at),
        called_at=swapped_at,
        made_at=at,
        stops_at=swapped_at,
        called_by_words=called_by_words,
        made_by=by,
        replaced_by=new,
        replaced_why=why,
        **pick_up.words(),
    )
    call.save(force_insert=True)
    keep_until_fetched(line, pick_up.back_by, called_at=swapped_at)
    follow_swap(line, new, by=by, at=at)
    _same_site_code(line, new, by=by, at=at)
    where, keys = pick_up.pick_up_words[:80], pick_up.keys_words
    move_cart(cart=line.cart, where_kind="site", where_words=where, keys_words=keys, by=by, at=at)
    _write(line, new, call, by=by, at=at)
    return new


def _write(line: Line, new: Line, call: OffHire, *, by: Staff, at: datetime) -> None:
    """One entry, in the journals of both carts and the yard's."""
    write_journal(
        event=Event.CART_SWAPPED,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), cart_chain(new.cart_id), YARD],
        by=by,
        at=at,
        facts={
            "agreement": line.agreement.number,
            "number": call.number,
            "broken": line.cart.fleet_number,
            "cart": new.cart.fleet_number,
            "line": new.pk,
            "swapped_at": call.stops_at,
            "expected_back": new.promised.upper,
            "told_by": call.called_by_words,
            "why": call.replaced_why,
        },
    )
