"""Parts that go into a repair, from the store or from another cart, which is then told of it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from fleet.actions.defects import tell_defect
from fleet.actions.locks import check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP
from servicing.actions.steps import demand
from servicing.models.jobs import PartUsed

PART_TAKEN = "part_taken"


class OwnPart(Refusal):
    """A part is taken from another cart than the one it goes into."""

    field = "taken_from"


class StruckAlready(Refusal):
    """The line was struck out before."""


def _tell_giver(part: PartUsed, giver: Cart, *, by: Staff, at: datetime) -> Defect:
    """The cart that gave the part stands until it has one again, or the workshop manager eases that with a second person."""
    defect = part.defect
    return tell_defect(
        cart=giver,
        title=f"{part.words} taken off for {defect.cart.fleet_number}",
        words=f"Taken for the repair of “{defect.title}” on {defect.cart.fleet_number}. It is missing here now.",
        station=defect.station,
        place=defect.place,
        grade="do_not_use",
        source=(PART_TAKEN, part.pk),
        by=by,
        by_words="",
        at=at,
        gear=defect.gear,
        second_look_always=True,
        may_be_passed=False,
    )


@transaction.atomic
def use_part(
    *,
    defect: Defect,
    part_id: UUID,
    words: str,
    part_number: str,
    quantity: Decimal,
    unit_cost: Decimal | None,
    taken_from: Cart | None,
    by: Staff,
    at: datetime,
) -> PartUsed:
    """Put down a part used in a repair. Taken from another cart, that cart is told of it as "do not use".

    part_id: made with the page, so that one form sent twice puts down one part. NotAllowed; WrongState; OwnPart;
    AgainstARule for nothing used or a cost below nothing.
    """
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers put down parts.")
    # Both carts in the order of their keys, so that two fitters taking from each other's cart do not wait for ever.
    for cart in sorted({defect.cart, taken_from or defect.cart}, key=lambda one: one.pk):
        lock_cart(cart)
    kept = PartUsed.objects.filter(pk=part_id).first()
    if kept is not None:
        return kept
    defect = Defect.objects.select_for_update(of=("self",)).select_related("cart").get(pk=defect.pk)
    demand(defect, "assessed", "in_repair", "repaired")
    if taken_from is not None and taken_from.pk == defect.cart_id:
        raise OwnPart(f"Choose another cart than {defect.cart.fleet_number} itself, or none.")
    part = PartUsed(
        id=part_id,
        defect=defect,
        words=" ".join(words.split()),
        part_number=part_number.strip(),
        quantity=quantity,
        unit_cost=unit_cost,
        taken_from_cart=taken_from,
        used_at=at,
        used_by=by,
    )
    check_fields(part)
    with rules_of(PartUsed):
        part.save(force_insert=True)
    if taken_from is not None:
        _tell_giver(part, taken_from, by=by, at=at)
    _journal(Event.PART_USED, part, by=by, at=at)
    return part


@transaction.atomic
def strike_part(*, part: PartUsed, by: Staff, at: datetime) -> PartUsed:
    """Strike out a part put down in error. What another cart was told stays told. NotAllowed; StruckAlready."""
    if not by.has_role(WORKSHOP):
        raise NotAllowed("Fitters and managers strike out parts.")
    part = PartUsed.objects.select_for_update(of=("self",)).select_related("defect__cart").get(pk=part.pk)
    if part.struck_at is not None:
        raise StruckAlready(f"{part.words} was struck out already.")
    part.struck_at, part.struck_by = at, by
    part.save(update_fields=["struck_at", "struck_by"])
    _journal(Event.PART_STRUCK, part, by=by, at=at)
    return part


def _journal(event: Event, part: PartUsed, *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event,
        subject=("defect", part.defect_id),
        chains=[cart_chain(part.defect.cart_id)],
        by=by,
        at=at,
        facts={
            "part": part.words,
            "part_number": part.part_number,
            "quantity": str(part.quantity),
            "unit_cost": None if part.unit_cost is None else str(part.unit_cost),
            "taken_from": part.taken_from_cart.fleet_number if part.taken_from_cart else None,
        },
    )
