"""Pencilling a cart for a caller who has not decided, and letting it go."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart
from hire.actions.clashes import (
    AlreadyPencilled,
    CartPromised,
    EndsBeforeItStarts,
    clash_sentence,
    end_lapsed,
    end_pencil,
    pencil_sentence,
    standing_pencil,
)
from hire.actions.job_plans import plans_go_with
from hire.actions.needs import needs_facts
from hire.models.job_plans import JobPlan
from hire.models.pencils import Pencil
from hire.suiting import ANY_CART, Needs
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class LapsesTooLate(Refusal):
    """A caller decides before the cart would leave, and not in the past."""

    field = "expires_at"


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk pencils carts and lets them go.")


@transaction.atomic
def pencil_cart(
    *,
    cart: Cart,
    starts_at: datetime,
    ends_at: datetime,
    caller_words: str,
    phone: str,
    words: str = "",
    is_wet: bool = False,
    shift: str = "day",
    leaves_by: str = "road",
    works_on: str = "road",
    water: str = "any",
    needs: Needs = ANY_CART,
    expires_at: datetime,
    plan: JobPlan | None = None,
    by: Staff,
    at: datetime,
) -> Pencil:
    """Keep a cart for a caller; is_wet: with an operator of ours; needs: what it must be; shift: a key of hire.shifts.WORKED;
    plan: of the job it is asked for.

    NotAllowed; EndsBeforeItStarts; LapsesTooLate; CartPromised; AlreadyPencilled.
    """
    _check(by)
    if ends_at <= starts_at:
        raise EndsBeforeItStarts("The hire ends before it starts. Correct one of the two times.")
    if not at < expires_at <= starts_at:
        raise LapsesTooLate("Keep it until a time to come, before the cart would leave.")
    Cart.objects.select_for_update(of=("self",)).get(pk=cart.pk)
    end_lapsed(cart, at=at)
    if clash := clash_sentence(cart, starts_at, ends_at, at=at):
        raise CartPromised(clash, field="starts_at")
    if other := pencil_sentence(cart, starts_at, ends_at, at=at):
        raise AlreadyPencilled(other, field="starts_at")
    pencil = Pencil(
        cart=cart, period=DateTimeTZRange(starts_at, ends_at), caller_words=caller_words, phone=phone, words=words,
        is_wet=is_wet, shift=shift, leaves_by=leaves_by, works_on=works_on, water=water, expires_at=expires_at, made_at=at,
        made_by=by,
    )  # fmt: skip
    pencil.take_needs(needs)
    try:
        with transaction.atomic():
            pencil.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyPencilled(
            f"{cart.fleet_number} was pencilled for another caller this very moment. Choose another cart or period.",
            field="starts_at",
        ) from error
    more = plans_go_with(pencil, plan=plan, by=by, at=at)
    _write(Event.PENCILLED, pencil, by=by, at=at, **more)
    return pencil


@transaction.atomic
def let_go(*, pencil: Pencil, by: Staff, at: datetime) -> Pencil:
    """Let a pencilled cart go. NotAllowed; PencilOver."""
    _check(by)
    pencil = standing_pencil(pencil, at=at)
    end_pencil(pencil, how="let_go", at=at)
    _write(Event.PENCIL_LET_GO, pencil, by=by, at=at)
    return pencil


def _write(event: Event, pencil: Pencil, *, by: Staff, at: datetime, **more: object) -> None:
    write_journal(
        event=event,
        subject=("pencil", pencil.pk),
        chains=[cart_chain(pencil.cart_id)],
        by=by,
        at=at,
        facts={
            "caller": pencil.caller_words,
            "starts_at": pencil.period.lower,
            "ends_at": pencil.period.upper,
            "expires_at": pencil.expires_at,
            "is_wet": pencil.is_wet,
            "shift": pencil.shift,
            "leaves_by": pencil.leaves_by,
            "asked": needs_facts(pencil.needs),
        }
        | more,
    )
