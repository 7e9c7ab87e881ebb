"""The fleet manager looks at a late entry of a cart that something stopped."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from hire.models.agreements import Line
from hire.models.gate import Handover, HandoverLook
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import FLEET_ONLY


class NothingToLookAt(Refusal):
    """The handover was not entered late with something stopping its cart, or was looked at."""


@transaction.atomic
def look_at_handover(*, handover: Handover, words: str, by: Staff, at: datetime) -> HandoverLook:
    """Say what came of a late entry: its alert clears. NotAllowed; NothingToLookAt."""
    if not by.has_role(FLEET_ONLY):
        raise NotAllowed("The fleet manager looks at a handover that was entered late.")
    line = Line.objects.locked(handover.line_id)
    cart = line.cart.fleet_number
    if not handover.asks_a_look:
        raise NothingToLookAt(f"Nothing stopped {cart} as it left on {line.agreement.number}, nor since.")
    look = HandoverLook(handover=handover, at=at, by=by, words=words.strip())
    try:
        with transaction.atomic():
            look.save(force_insert=True)
    except IntegrityError as error:
        raise NothingToLookAt(
            f"Somebody has looked at this handover of {cart} already; see the hire’s page."
        ) from error
    write_journal(
        event=Event.HANDOVER_LOOKED_AT,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), YARD],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "words": look.words},
    )
    return look
