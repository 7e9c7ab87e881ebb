"""Goes with limits: gear the hire does not need is isolated and tagged, so that the cart may go without it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import ask_role, check_fields, lock_cart, rules_of
from fleet.gear import GEAR, MAY_BE_ISOLATED
from fleet.models.defects import Defect
from fleet.models.standing import Limit
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import MANAGERS


class NotIsolable(Refusal):
    """The defect is not of gear a hire may do without, or it is closed already."""


class LimitGone(Refusal):
    """The limit was lifted already."""


@transaction.atomic
def set_limit(
    *, defect: Defect, how_isolated: str, tag_number: str, words: str, by: Staff, at: datetime
) -> Limit:
    """Let the cart go without the defect's own gear, which has been isolated and tagged.

    words: what is printed at the top of the certificate and accepted by the customer. NotAllowed; NotIsolable where the
    gear is not one a hire may do without (fleet.gear.MAY_BE_ISOLATED); AgainstARule when a limit covers it already.
    """
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager lets a cart go with a limit.")
    cart = lock_cart(defect.cart)
    defect = Defect.objects.select_for_update(of=("self",), no_key=True).get(pk=defect.pk)
    if not defect.is_open:
        raise NotIsolable(f"“{defect.title}” on cart {cart.fleet_number} is closed: it limits nothing.")
    if defect.gear not in MAY_BE_ISOLATED:
        what = GEAR.get(defect.gear, "What it is on").lower()
        raise NotIsolable(
            f"“{defect.title}” on cart {cart.fleet_number}: {what} is not gear a hire may do without. It is repaired first."
        )
    limit = Limit(
        cart=cart,
        gear=defect.gear,
        defect=defect,
        words=words.strip(),
        how_isolated=how_isolated.strip(),
        tag_number=tag_number.strip(),
        set_at=at,
        set_by=by,
    )
    check_fields(limit)
    with rules_of(Limit):
        limit.save(force_insert=True)
    write_journal(
        event=Event.LIMIT_SET,
        subject=("limit", limit.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "gear": limit.gear,
            "defect": defect.pk,
            "words": limit.words,
            "how_isolated": limit.how_isolated,
            "tag_number": limit.tag_number,
        },
    )
    return limit


@transaction.atomic
def lift_limit(*, limit: Limit, by: Staff, at: datetime) -> Limit:
    """End a limit: the gear is back in use, or its defect stands again. NotAllowed, LimitGone."""
    ask_role(by, MANAGERS, "A limit is lifted by the workshop manager or the fleet manager.")
    cart = lock_cart(limit.cart)
    limit = Limit.objects.select_for_update(of=("self",)).get(pk=limit.pk)
    if limit.lifted_at is not None:
        raise LimitGone(f"This limit of cart {cart.fleet_number} was lifted already.")
    limit.lifted_at = at
    with rules_of(Limit):
        limit.save(update_fields=["lifted_at"])
    write_journal(
        event=Event.LIMIT_LIFTED,
        subject=("limit", limit.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"gear": limit.gear, "defect": limit.defect_id},
    )
    return limit


def end_limits_of(*, defect: Defect, at: datetime) -> None:
    """Lift what limits stand for a defect because it is closed. Part of the action that closes it, which journals it."""
    Limit.objects.filter(defect=defect, lifted_at=None).update(lifted_at=at)
