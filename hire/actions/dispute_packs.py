"""Dispute packs: who took one out, and when, is written down, for it carries names, licences and photos out of the yard."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from hire.models.agreements import Line
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed
from people.roles import DESK


@transaction.atomic
def take_pack(*, line: Line, by: Staff, at: datetime) -> None:
    """Write down that somebody takes the dispute pack of a hire. NotAllowed."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk and the fleet manager make dispute packs.")
    write_journal(
        event=Event.DISPUTE_PACK_TAKEN, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id)], by=by, at=at,
        facts={"agreement": line.agreement.number, "cart": line.cart.fleet_number},
    )  # fmt: skip
