"""What is worth asking about walk-rounds, for managers: the signs of each, and which of them were put to rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db.models import Q

from inspections.models import RestedQuestion, WalkRound
from inspections.sign_rules import PERSON_CODES, Explained, Rules, explain
from inspections.truthfulness import signs
from inspections.walk_facts import Sign
from inspections.walk_history import days_before, walks_with_history

RULES = Rules()


@dataclass(frozen=True)
class Asked:
    """A question, its rule, and how it was put to rest (None: it stands)."""

    sign: Sign
    explained: Explained
    rest: RestedQuestion | None


def questions_of(
    walks: Sequence[WalkRound], *, once_a_person: bool = False, rules: Rules = RULES
) -> dict[UUID, list[Asked]]:
    """What is worth asking about each walk-round, in a number of queries that does not grow with them.

    walks: cart and author selected. once_a_person: a person's habits are asked about beside the first of their walk-rounds
    here only, as on a list. A question about a habit, once put to rest, rests for that person's walk-rounds of the next
    90 days (rules.rested_days) too.
    """
    if not walks:
        return {}
    firsts = {walk.author_id: walk.pk for walk in reversed(walks)}
    with_habits = set(firsts.values()) if once_a_person else {walk.pk for walk in walks}
    known, rests = walks_with_history(walks, with_habits=with_habits, rules=rules), _rests(walks, rules)
    found = {}
    for walk in walks:
        facts, history = known[walk.pk]
        raised = [
            sign
            for sign in signs(facts, history, rules=rules)
            if walk.pk in with_habits or sign.code not in PERSON_CODES
        ]
        found[walk.pk] = [
            Asked(sign, explain(sign.code, rules), _rest_of(walk, sign, rests, rules)) for sign in raised
        ]
    return found


def _rests(walks: Sequence[WalkRound], rules: Rules) -> list[RestedQuestion]:
    """Questions put to rest about these walk-rounds, or about the habits of those who walked them; newest first."""
    about_habits = Q(
        code__in=PERSON_CODES,
        walk_round__author__in={walk.author_id for walk in walks if walk.author_id},
        rested_at__gte=days_before(min(walk.signed_at for walk in walks), rules.rested_days),
    )
    rows = RestedQuestion.objects.filter(Q(walk_round__in=[walk.pk for walk in walks]) | about_habits)
    return list(
        rows.select_related("rested_by", "walk_round").defer("walk_round__manifest").order_by("-rested_at")
    )


def _rest_of(
    walk: WalkRound, sign: Sign, rests: Sequence[RestedQuestion], rules: Rules
) -> RestedQuestion | None:
    for rest in rests:
        if rest.code == sign.code and (rest.walk_round_id == walk.pk or _still_rests(rest, walk, rules)):
            return rest
    return None


def _still_rests(rest: RestedQuestion, walk: WalkRound, rules: Rules) -> bool:
    """Whether a question about a habit, put to rest at another walk-round of the same person, rests for this one too."""
    if rest.code not in PERSON_CODES or walk.author_id is None:
        return False
    until = rest.rested_at + timedelta(days=rules.rested_days)
    return rest.walk_round.author_id == walk.author_id and walk.signed_at <= until
