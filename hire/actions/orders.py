"""The customer's order number on an agreement, and what it is good for."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from hire.models.agreements import Agreement
from people.journal.actions import YARD, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class ValueWithoutOrder(Refusal):
    """A value is of an order number."""

    field = "order_number"


@transaction.atomic
def set_order(
    *, agreement: Agreement, order_number: str, order_value: Decimal | None, by: Staff, at: datetime
) -> Agreement:
    """Write down an agreement's order number and its value before tax; None: no value was told. NotAllowed; ValueWithoutOrder."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk keeps the order numbers.")
    if order_value is not None and not order_number:
        raise ValueWithoutOrder("Give the order number that this value is of.")
    agreement = Agreement.objects.select_for_update().get(pk=agreement.pk)
    before = [agreement.order_number, agreement.order_value]
    agreement.order_number, agreement.order_value = order_number, order_value
    agreement.save(update_fields=["order_number", "order_value"])
    write_journal(
        event=Event.ORDER_SET,
        subject=("agreement", agreement.pk),
        chains=[YARD],
        by=by,
        at=at,
        facts={
            "agreement": agreement.number, "order_number": order_number, "order_value": order_value, "before": before,
        },
    )  # fmt: skip
    return agreement
