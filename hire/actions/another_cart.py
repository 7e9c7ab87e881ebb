"""Another cart for a hire that has not left: everything of the hire stays, the cart and its certificate change."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from fleet.models.carts import Cart
from fleet.water.history import NEVER
from fleet.water_standing import standing_of
from hire.actions.agreements import AlreadyLeft, CartNotInFleet, NotForDrinkingWater
from hire.actions.clashes import (
    AlreadyPencilled,
    CartPromised,
    check_tank,
    clash_sentence,
    end_lapsed,
    pencil_sentence,
)
from hire.actions.gate import valid_certificate
from hire.actions.site import subject_of
from hire.actions.swap import SameCart
from hire.models.agreements import Line
from inspections.certificates.actions import AlreadyWithdrawn, withdraw_paper
from inspections.site_walkers import end_site_walkers
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_day


class SentMeanwhile(Refusal):
    """Another desk chose a cart since this one looked."""

    field = "cart"


def _locked(line: Line, cart: Cart) -> tuple[Line, Cart]:
    """The hire, then both carts in one order, so that two desks on the same two carts never wait for each other."""
    line = Line.objects.locked(line.pk)
    pair = Cart.objects.select_for_update(of=("self",)).filter(pk__in=[cart.pk, line.cart_id]).order_by("pk")
    return line, {one.pk: one for one in pair}[cart.pk]


def check_line(line: Line, instead_of: Cart) -> None:
    """Whether a hire, locked, may still have another cart than the one it was looked at with. AlreadyLeft; SentMeanwhile."""
    about = line.agreement
    if line.handed_over_at is not None:
        raise AlreadyLeft(
            f"{line.cart.fleet_number} has left on {about.number}. Swap it instead, while it is out."
        )
    if line.cancelled_at is not None:
        raise AlreadyLeft(f"{about.number} is cancelled for {line.cart.fleet_number}. Make a new agreement.")
    if line.cart_id != instead_of.pk:
        raise SentMeanwhile(
            f"{line.cart.fleet_number} was chosen instead of {instead_of.fleet_number} meanwhile. Look again at whether it will do."
        )


def _check_cart(line: Line, cart: Cart, beside: Collection[UUID], *, at: datetime) -> None:
    starts_at, ends_at = line.promised.lower, line.promised.upper
    if cart.pk == line.cart_id:
        raise SameCart(f"{cart.fleet_number} is the cart that goes on this hire. Choose another one.")
    if cart.retired_on is not None and cart.retired_on <= yard_day(ends_at):
        raise CartNotInFleet(
            f"{cart.fleet_number} leaves the fleet on {cart.retired_on:%-d %b %Y}. Choose another cart."
        )
    if line.agreement.water == "potable" and (tank := standing_of(cart)).verdict == NEVER:
        raise NotForDrinkingWater(
            f"{cart.fleet_number} is not for potable water: {tank.sentence} {tank.clear_words}."
        )
    end_lapsed(cart, at=at)
    if clash := clash_sentence(cart, starts_at, ends_at, at=at, but=beside):
        raise CartPromised(clash)
    check_tank(cart, line.agreement.water, starts_at, ends_at, at=at, but=beside)
    if other := pencil_sentence(cart, starts_at, ends_at, at=at):
        raise AlreadyPencilled(other)


@transaction.atomic
def send_another(
    *, line: Line, cart: Cart, instead_of: Cart, why: str, beside: Collection[UUID] = (), by: Staff, at: datetime
) -> Line:  # fmt: skip
    """Promise another cart for a hire, for the same period, and return the hire. instead_of: the cart that was looked at when it
    was chosen. beside: hires that get another cart in the same transaction, after this one: what they have now is in nobody's way.
    That its cart was asked for by number is over with that cart. Its certificate is withdrawn at once and the next one takes its
    place; phones opened on the hire open it anew.

    NotAllowed; AlreadyLeft; SentMeanwhile; SameCart; CartNotInFleet; NotForDrinkingWater; CartPromised; TankSpoilt;
    AlreadyPencilled.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk says which cart goes on a hire.")
    line, cart = _locked(line, cart)
    check_line(line, instead_of)
    _check_cart(line, cart, beside, at=at)
    line.loaded_at = None
    before, line.cart, line.changed_at, line.is_this_cart = line.cart, cart, at, False
    try:
        with transaction.atomic():
            line.save(update_fields=["cart", "changed_at", "is_this_cart", "loaded_at"])
    except IntegrityError as error:
        raise CartPromised(
            f"{cart.fleet_number} was promised to another hire this very moment. Choose another cart."
        ) from error
    chains = [cart_chain(before.pk), cart_chain(cart.pk), YARD]
    if (paper := valid_certificate(line)) is not None:
        with suppress(AlreadyWithdrawn):
            # Customers read it: why is the yard's own affair.
            words = f"{cart.fleet_number} goes instead of {before.fleet_number}."
            withdraw_paper(certificate=paper, why=words, by=by, at=at, chains=chains)
    enqueue(kind="hire.issue_certificate", subject_id=line.pk, at=at)
    _write(line, before, chains, why=why, by=by, at=at)
    end_site_walkers(subject=subject_of(line), by=by, at=at)
    return line


def _write(line: Line, before: Cart, chains: list[str], *, why: str, by: Staff, at: datetime) -> None:
    """One entry, in the journals of both carts and the yard's."""
    write_journal(
        event=Event.ANOTHER_CART,
        subject=("hire_line", line.pk),
        chains=chains,
        by=by,
        at=at,
        facts={
            "agreement": line.agreement.number,
            "customer": line.agreement.customer.name,
            "before": before.fleet_number,
            "cart": line.cart.fleet_number,
            "starts_at": line.promised.lower,
            "ends_at": line.promised.upper,
            "why": why,
        },
    )
