"""Putting a question about a walk-round to rest: who, when, and what was found out. The signed record stays as it is."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, lock_cart, rules_of
from inspections.models import RestedQuestion, WalkRound
from inspections.walk_facts import Sign
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import MANAGERS


class OwnWalkRound(Refusal):
    """Nobody puts a question about their own walk-round to rest."""


class AlreadyAtRest(Refusal):
    """Somebody put it to rest already."""


def may_see_questions(person: Staff, walk: WalkRound) -> bool:
    """Questions are for managers, and never about a walk-round of their own."""
    return person.has_role(MANAGERS) and walk.author_id != person.pk


@transaction.atomic
def rest_question(*, walk: WalkRound, sign: Sign, words: str, by: Staff, at: datetime) -> RestedQuestion:
    """Put one question to rest in words: it is asked no more, and stays on record with its answer.

    NotAllowed, OwnWalkRound, AlreadyAtRest; AgainstARule when nothing is said. It changes neither the walk-round nor the
    cart's right to go. The entry goes into the yard's journal and not the cart's, which everybody reads.
    """
    ask_role(
        by, MANAGERS, "Questions about walk-rounds are put to rest by the workshop manager or fleet manager."
    )
    cart = lock_cart(walk.cart)
    what = f"the {walk.get_purpose_display().lower()} of {cart.fleet_number}"
    if walk.author_id == by.pk:
        raise OwnWalkRound(f"You signed {what} yourself. Another manager puts this question to rest.")
    said = words.strip()
    if not said:
        raise AgainstARule(f"Say what you found out about {what}.", field="words")
    if RestedQuestion.objects.filter(walk_round=walk, code=sign.code).exists():
        raise AlreadyAtRest(f"This question about {what} was put to rest already.")
    rested = RestedQuestion(
        walk_round=walk, code=sign.code, question=sign.question, words=said, rested_at=at, rested_by=by
    )
    with rules_of(RestedQuestion):
        rested.save(force_insert=True)
    write_journal(
        event=Event.QUESTION_RESTED,
        subject=("walk_round", walk.pk),
        by=by,
        at=at,
        facts={
            "cart": cart.fleet_number,
            "code": sign.code,
            "question": sign.question,
            "evidence": sign.evidence,
            "words": said,
        },
    )
    return rested
