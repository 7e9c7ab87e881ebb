"""Until when a cart is kept for a hire that is called off, and others' to have after that. Parts of actions, the line locked."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from hire.actions.clashes import OTHERWISE, clash_sentence
from hire.models.agreements import Line
from people.refusals import Refusal

SHORTEST = timedelta(minutes=1)


class TakenSince(Refusal):
    """The call let the cart go, and another hire has it by now; the sentence names it."""


def keep_until(line: Line, until: datetime) -> bool:
    """Whether nobody else has the cart until then; kept as it was where somebody has."""
    # Handed over and called off before its promised start, it has that start behind it.
    return _kept(line, max(until, line.promised.lower + SHORTEST))


def keep_to_its_end(line: Line, number: str, *, at: datetime) -> None:
    """The hire goes on as promised, the call of that number withdrawn. TakenSince."""
    if _kept(line, None):
        return
    clash = clash_sentence(line.cart, line.kept_to, line.promised.upper, at=at, but=[line.pk])
    other = clash.removesuffix(OTHERWISE)
    raise TakenSince(f"{number} let the cart go. {other}Move that hire, or send another cart on it, first.")


def _kept(line: Line, until: datetime | None) -> bool:
    was, line.kept_until = line.kept_until, until
    try:
        with transaction.atomic():
            line.save(update_fields=["kept_until"])
    except IntegrityError:
        line.kept_until = was
        return False
    return True
