"""An extinguisher's exchange for a charged spare, and its end of life."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import AgainstARule, lock_cart
from fleet.models.equipment import Extinguisher
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP
from people.templatetags.screen import day_year
from people.yard import yard_day
from servicing.due import services_due
from servicing.extinguishers import DUE_WORDS, END_OF_LIFE


class NotOnACart(Refusal):
    """Only an extinguisher on a cart is exchanged."""


class NoGoodSpare(Refusal):
    """The spare is used, overdue, condemned or on a cart itself."""

    field = "spare"


class CondemnedAlready(Refusal):
    """It was condemned before."""


def why_no_spare(item: Extinguisher, *, at: datetime) -> str:
    """Why an extinguisher may not go on a cart as a spare, in a sentence; "" when it may. Its services are read."""
    today = yard_day(at)
    if item.condemned_at is not None:
        return f"Extinguisher {item.serial} is condemned: it never goes on a cart again."
    if item.cart_id is not None:
        return f"Extinguisher {item.serial} is on a cart itself. Choose one from the shelf."
    if item.is_discharged:
        return f"Extinguisher {item.serial} is used or out of the green. Have it serviced, or choose another."
    soonest = services_due(item, on=today)[0]
    if soonest.on <= today:
        act = "Condemn it" if soonest.kind == END_OF_LIFE else "Have it serviced"
        return (
            f"Extinguisher {item.serial}: its {DUE_WORDS[soonest.kind]} fell due on {day_year(soonest.on)}. "
            f"{act}, or choose another."
        )
    return ""


def _locked(*items: Extinguisher) -> list[Extinguisher]:
    rows = Extinguisher.objects.select_for_update(of=("self",)).order_by("pk")
    found = {row.pk: row for row in rows.filter(pk__in=[item.pk for item in items])}
    return [found[item.pk] for item in items]


@transaction.atomic
def exchange_extinguisher(
    *, old: Extinguisher, spare: Extinguisher, is_used: bool, condemned_words: str, by: Staff, at: datetime
) -> Extinguisher:
    """Take an extinguisher off its cart to the shelf and put a charged spare that is in date in its bracket.

    is_used: the old one goes to the shelf as used or out of the green. condemned_words: why it is at the end of its life,
    "" when it is not. NotAllowed; NotOnACart; NoGoodSpare.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Extinguishers are exchanged by a fitter or a manager.")
    if old.cart is None:
        raise NotOnACart(f"Extinguisher {old.serial} is on the shelf already.")
    cart = lock_cart(old.cart)
    old, spare = _locked(old, spare)
    if old.cart_id != cart.pk:
        raise NotOnACart(
            f"Extinguisher {old.serial} is no longer on {cart.fleet_number}. Look at the cart again."
        )
    if no := why_no_spare(spare, at=at):
        raise NoGoodSpare(no)
    spare.cart, spare.bracket = cart, old.bracket
    old.cart, old.bracket, old.is_discharged = None, "", old.is_discharged or is_used
    if condemned_words.strip():
        old.condemned_at, old.condemned_by, old.condemned_words = at, by, condemned_words.strip()
    old.save()
    spare.save()
    write_journal(
        event=Event.EXTINGUISHER_EXCHANGED,
        subject=("extinguisher", spare.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "off": old.serial,
            "on": spare.serial,
            "bracket": spare.bracket,
            "is_used": old.is_discharged,
            "condemned": old.condemned_words,
        },
    )
    return spare


@transaction.atomic
def condemn_extinguisher(*, extinguisher: Extinguisher, words: str, by: Staff, at: datetime) -> Extinguisher:
    """Condemn an extinguisher that stands on the shelf: kept on record, never again on a cart. One on a cart is exchanged.

    NotAllowed; CondemnedAlready; AgainstARule on a cart, or without a reason.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Extinguishers are condemned by a fitter or a manager.")
    [item] = _locked(extinguisher)
    if item.condemned_at is not None:
        raise CondemnedAlready(f"Extinguisher {item.serial} was condemned already.")
    if item.cart_id is not None:
        raise AgainstARule(f"Extinguisher {item.serial} is on a cart. Exchange it for a spare there.")
    if not words.strip():
        raise AgainstARule(f"Write why extinguisher {item.serial} is condemned.", field="words")
    item.condemned_at, item.condemned_by, item.condemned_words = at, by, words.strip()
    item.save()
    write_journal(
        event=Event.EXTINGUISHER_CONDEMNED,
        subject=("extinguisher", item.pk),
        chains=[YARD],
        by=by,
        at=at,
        facts={"serial": item.serial, "words": words.strip()},
    )
    return item
