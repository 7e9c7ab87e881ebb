"""A check signed on site by a customer's person counts once a manager has accepted it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from inspections.actions import AlreadyConfirmed, lock_walk_round
from inspections.models import TO_ACCEPT, NameConfirmation, WalkRound
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS

# What a manager states by accepting; the page says it before, the certificate prints it after.
ACCEPTING = "I looked at the photos and at every answer of this check, and let the cart go on it as if the yard had walked it."


class NothingToAccept(Refusal):
    """Only a check of a cart that goes from site to site, signed by a customer's person, is accepted."""


@transaction.atomic
def accept_check(*, walk: WalkRound, by: Staff, at: datetime) -> NameConfirmation:
    """A manager takes a check that a customer's person signed on site as the yard's own: from now it counts at the gate and
    for the certificate. NotAllowed; NothingToAccept; AlreadyConfirmed."""
    if not by.has_role(MANAGERS):
        raise NotAllowed("A check signed on site is accepted by the workshop manager or the fleet manager.")
    lock_walk_round(walk.pk)
    walk = WalkRound.objects.select_related("cart", "name_confirmation").get(pk=walk.pk)
    if not walk.is_from_site or walk.purpose not in TO_ACCEPT:
        raise NothingToAccept(
            f"This walk-round of {walk.cart.fleet_number} needs nobody’s acceptance: only a pre-hire or gate-out check signed on "
            "site does."
        )
    if walk.is_name_confirmed:
        raise AlreadyConfirmed(
            f"This check of {walk.cart.fleet_number} is accepted already. There is nothing left to do."
        )
    confirmation = NameConfirmation(walk_round=walk, by=by, at=at, how="accepted")
    confirmation.save(force_insert=True)
    enqueue(kind="walk_round.signed", subject_id=walk.pk, at=at)
    write_journal(
        event=Event.CHECK_ACCEPTED,
        subject=("walk_round", walk.pk),
        chains=[cart_chain(walk.cart_id)],
        by=by,
        at=at,
        facts={"signed_by": walk.author_words, "manifest_sha256": walk.manifest_sha256},
    )
    return confirmation
