"""What a return ends, and a return that was none: the hire goes on as if nobody had written it down, as far as that can be told."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from fleet.actions.carts import move_cart
from fleet.models.carts import Cart
from fleet.sentences import past_words
from hire.actions.clashes import clash_sentence
from hire.actions.site import subject_of
from hire.actions.wet import end_turns, resume_turns
from hire.charge_facts import dockets_of
from hire.models.agreements import Line
from hire.swaps import lines_together
from inspections.models import WalkRound
from inspections.site_walkers import end_site_walkers, resume_site_walkers
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.journal.models import Entry
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class NotBack(Refusal):
    """The cart is not back from this hire."""


class OutSince(Refusal):
    """The cart was handed over again since, or is promised to another hire in the time of this one."""


class WalkedSince(Refusal):
    """Somebody of the yard has walked it as returned or after the wash, counted its kit, or decided what is charged."""


class LastDocketMade(Refusal):
    """The hire is charged to its end."""


@dataclass(frozen=True)
class Resumed:
    """The hire as it goes on, and what must be made anew, a sentence each."""

    line: Line
    anew: tuple[str, ...]


def end_with_return(line: Line, cart: Cart, *, by: Staff, at: datetime) -> dict[str, object]:
    """End what a return ends, operators and phones, and say for the journal what that was and where the cart stood, so that it
    can be undone. Called inside the action that brings it back."""
    assert line.back_at is not None
    turns = end_turns(line, why="The cart is back in the yard", at=line.back_at)
    end_site_walkers(subject=subject_of(line), by=by, at=at)
    return {"turns": turns, "stood": [cart.where_kind, cart.where_words, cart.keys_words]}


def _check(line: Line, *, at: datetime) -> None:
    cart, back = line.cart.fleet_number, line.back_at
    assert back is not None
    later = (
        Line.objects.filter(cart=line.cart_id, handed_over_at__gte=back)
        .exclude(pk=line.pk)
        .for_list()
        .first()
    )
    if later is not None:
        raise OutSince(
            f"{cart} was handed over again since, on {later.agreement.number}: it was back. Nothing is changed."
        )
    walks = WalkRound.objects.filter(
        cart=line.cart_id, purpose__in=["as_returned", "after_wash"], signed_at__gte=back
    )
    if walk := walks.order_by("signed_at").first():
        raise WalkedSince(
            f"{walk.author_name} walked {cart} after it came back, {past_words(walk.signed_at, at=at)}: it was in the yard. If the "
            "time is wrong, the dispute record says so."
        )
    if line.kit_counts.exists() or line.back_decisions.exists():
        raise WalkedSince(f"What came back with {cart} is counted or decided already: it was in the yard.")
    if docket := dockets_of(lines_together(line)).filter(is_last=True).first():
        raise LastDocketMade(
            f"{docket.number} charges {cart} to the end of its hire. Nothing is changed; what it charged too little or too much "
            "is settled in a dispute of that docket."
        )
    if clash := clash_sentence(line.cart, line.promised.lower, line.kept_to, at=at, but=[line.pk]):
        raise OutSince(f"{clash} Move or cancel that hire first.")


def _facts_of_return(line: Line) -> dict[str, object]:
    """What the journal says of the newest return of this hire; older ones say less."""
    entries = Entry.objects.filter(event=Event.BACK_IN_YARD, subject_kind="hire_line", subject_id=line.pk)
    entry = entries.order_by("-at").first()
    found: dict[str, object] = json.loads(entry.text)["facts"] if entry else {}
    return found


def _resume(
    line: Line, facts: dict[str, object], over_at: datetime, *, by: Staff, at: datetime
) -> tuple[str, ...]:
    """What the return ended goes on; a sentence for each thing that cannot."""
    anew: list[str] = []
    told = facts.get("turns")
    if isinstance(told, list):
        had = [
            (UUID(pk), datetime.fromisoformat(lower), datetime.fromisoformat(upper))
            for pk, lower, upper in told
        ]
        anew += [
            f"{turn.operator} is with another cart by now, or the shift has another operator. Put an operator with it again."
            for turn in resume_turns(had)
        ]
    elif line.turns.exists():
        anew.append("How long its operators were to stay is not on record. Put them with it again.")
    resume_site_walkers(subject=subject_of(line), over_at=over_at, by=by, at=at)
    return tuple(anew)


@transaction.atomic
def not_back(*, line: Line, why: str, by: Staff, at: datetime) -> Resumed:
    """It is not back after all: the hire goes on, its operators and phones with it, and the cart stands where it stood.

    Of a return written down before that was kept, what must be made anew is said. NotAllowed; NotBack; OutSince; WalkedSince;
    LastDocketMade.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk takes back a return that was none.")
    line = Line.objects.locked(line.pk)
    cart = Cart.objects.select_for_update(of=("self",)).get(pk=line.cart_id)
    known, was = line.back_known_at, line.back_at
    if known is None or was is None:
        raise NotBack(f"{cart.fleet_number} is not back from {line.agreement.number}.")
    _check(line, at=at)
    line.back_at = line.back_entered_at = None
    try:
        with transaction.atomic():
            line.save(update_fields=["back_at", "back_entered_at"])
    except IntegrityError as error:
        raise OutSince(
            f"{cart.fleet_number} was promised or handed over to another hire this very moment. Look at it again."
        ) from error
    facts = _facts_of_return(line)
    anew = _resume(line, facts, known, by=by, at=at)
    stood = facts.get("stood")
    kind, where, keys = (
        stood if isinstance(stood, list) else ["site", line.agreement.place_of_work[:80], cart.keys_words]
    )
    move_cart(cart=cart, where_kind=kind, where_words=where, keys_words=keys, by=by, at=at)
    write_journal(
        event=Event.NOT_BACK,
        subject=("hire_line", line.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "was_back_at": was, "why": why, "made_anew": anew},
    )
    return Resumed(line, anew)
