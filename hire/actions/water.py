"""What water a cart carried on a hire, told by the yard once the cart is back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.water.history import SOURCES
from hire.models.agreements import Line
from hire.models.water import WaterTold
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK, MANAGERS, Role

# Those of the gate (hire.actions.gate): whoever takes the cart back asks.
TELLS = DESK | {Role.YARD_HAND, Role.WORKSHOP_MANAGER}


class WaterUnclear(Refusal):
    """Nobody says what water it is, or the fill point says otherwise."""

    field = "source"


class NotBackYet(Refusal):
    """The cart is not back: its loads tell what it carries."""


class SayWhyOtherwise(Refusal):
    """Another answer is on record."""

    field = "words"


@transaction.atomic
def tell_water(*, line: Line, source: str, words: str = "", by: Staff, at: datetime) -> WaterTold:
    """Tell what a cart carried on a hire that is over; the newest answer counts, the same again returns the first.

    words: who says so; of another answer, what was wrong with the first. NotAllowed, also for another answer by anybody but a
    manager; NotBackYet; WaterUnclear; SayWhyOtherwise.
    """
    if not by.has_role(TELLS):
        raise NotAllowed("The hire desk, a yard hand or a manager tells what a cart carried on its hire.")
    line = Line.objects.select_for_update(of=("self",)).for_list().get(pk=line.pk)
    number = line.cart.fleet_number
    if line.back_at is None:
        raise NotBackYet(f"{number} is not back from this hire. Put its loads down as they are taken.")
    if source not in SOURCES:
        raise WaterUnclear("Choose what the tank carried.")
    # What was told of a return that was none binds nobody.
    kept = line.water_told.filter(told_at__gte=line.back_known_at).first()
    if kept is not None and kept.source == source:
        return kept
    if kept is not None and not by.has_role(MANAGERS):
        raise NotAllowed(
            f"{kept} is on record for this hire of {number}. The workshop manager or the fleet manager puts that right."
        )
    if kept is not None and not words.strip():
        raise SayWhyOtherwise(f"{kept} is on record for this hire. Say what was wrong with that.")
    row = WaterTold(line=line, source=source, words=words.strip()[:240], told_at=at, told_by=by)
    row.save(force_insert=True)
    write_journal(
        event=Event.HIRE_WATER_TOLD,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "water": source, "words": row.words}
        | ({"before": kept.source} if kept else {}),
    )
    return row
