"""A handover or a return that was entered later than it happened: both times, in words. No clock, no reading."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from hire.charging.money import day_words
from hire.models.agreements import Agreement, Line
from hire.models.gate import Handover
from inspections.certificates.content import LEFT_ALTHOUGH


def late_words(line: Line) -> Iterator[str]:
    """A sentence for each of the two that was entered late, by the clock where the cart works."""
    about, cart = line.agreement, line.cart.fleet_number
    if line.handed_over_at and (entered := line.left_entered_late_at):
        yield f"{cart} left on {local_words(line.handed_over_at, about)}, entered {local_words(entered, about)}."
    if line.back_at and (entered := line.back_entered_late_at):
        yield f"{cart} was back in the yard on {local_words(line.back_at, about)}, entered {local_words(entered, about)}."


def although_words(handover: Handover) -> Iterator[str]:
    """That the cart left although something stopped it, each thing, and the words of who recorded it."""
    if handover.left_although:
        yield LEFT_ALTHOUGH + " ".join(handover.left_although.splitlines())
        yield f"Recorded by {handover.who}: {handover.although_words.rstrip('.')}."


def local_words(moment: datetime, about: Agreement) -> str:
    """A moment by the clock where the cart works, as it stands on a paper."""
    local = moment.astimezone(about.zone)
    return f"{day_words(local.date())} at {local:%H:%M}{about.mark(moment)}"
