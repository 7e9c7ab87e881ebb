"""A hire as the driver who collects its cart meets it: what they may walk, where the cart stands, and whether it may leave."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.urls import reverse

from fleet.models.carts import Cart
from fleet.needs import SiteHire
from hire.actions.gate import gate_readiness, valid_certificate
from hire.actions.gate_late import rests_on
from hire.models.agreements import Line
from hire.models.links import CollectionLink
from hire.promises import need_of
from inspections.standing import ACCEPTANCE, latest_fit_pre_hire

# What a driver is told of; what else stops a cart may be about people or hires that are none of theirs.
TOLD = frozenset({"walk_round.pre_hire", "walk_round.gate_out", ACCEPTANCE})
SOMETHING = "Something else stops it. The yard says what."
NO_PAPER = "The certificate for its present check is not issued yet."


def stands_words(cart: Cart) -> str:
    """Where a cart stands and where its keys are, for whoever comes for it."""
    where = cart.where_words or cart.home_yard or "Ask the yard where it stands"
    return f"{where}. Keys: {cart.keys_words or 'ask the yard'}."


def collected(record_id: UUID, *, at: datetime) -> SiteHire | None:
    """The hire by the link its driver was given; None when there is none."""
    link = CollectionLink.objects.for_page().filter(pk=record_id).first()
    if link is None:
        return None
    is_over = not link.is_open(at=at)
    return SiteHire(
        need_of(link.line_id, at=at),
        () if is_over else ("gate_out",),
        stands_words(link.cart),
        is_over,
        reverse("hire:collection", args=[link.line_id]),
    )


@dataclass(frozen=True)
class Verdict:
    """Whether a cart may leave now. stops: why not, a sentence each, with nothing of anybody else's in it; limits: what it goes
    with; asks_gate_out: the gate-out check is still to be walked."""

    stops: tuple[str, ...]
    limits: tuple[str, ...]
    asks_gate_out: bool

    @property
    def may_leave(self) -> bool:
        return not self.stops


def verdict(line: Line, *, at: datetime) -> Verdict:
    """As the gate judges it (hire.actions.gate.hand_over): readiness for leaving now, and a certificate on the present check."""
    answer = gate_readiness(line, at=at)
    told = [one.sentence for one in answer.blockers if one.code in TOLD]
    if len(told) < len(answer.blockers):
        told.append(SOMETHING)
    walk, certificate = latest_fit_pre_hire(line.cart, at=at), valid_certificate(line)
    if walk is not None and (certificate is None or not rests_on(certificate, walk)):
        told.append(NO_PAPER)
    limits = (*(one.sentence for one in answer.limits), *(one.blocker.sentence for one in answer.passed))
    return Verdict(tuple(told), limits, any(one.code == "walk_round.gate_out" for one in answer.blockers))
