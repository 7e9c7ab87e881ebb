"""Bringing the open alerts of one rule in line with what is true, compared in bulk: nothing is written where nothing changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from operator import attrgetter
from typing import Any
from uuid import UUID

from fleet.alerts.models import Alert
from fleet.alerts.models.alerts import NOT_ASIDE
from fleet.alerts.rules import Condition
from fleet.alerts.timing import RANK_ORDER, SAME_AFTER
from people.say import say

FACTS = (
    "cart_id", "rank", "for_role", "what", "how_we_know", "if_not", "act", "evidence_at", "due_at",
)  # fmt: skip
BATCH = 500
# What is said, and how long it may be.
SAID = {"what": 240, "how_we_know": 240, "if_not": 240, "act": 40}
_raw_facts = attrgetter(*FACTS)
_RANK, _FIRST_FACT = FACTS.index("rank"), 4
Key = tuple[str, UUID]


def _facts_of(condition: Condition) -> tuple[Any, ...]:
    """The facts as they are kept: what is said of them in the yard's words, while it is known which of those somebody typed."""
    return tuple(
        say(fact, most=SAID[name]) if name in SAID else fact
        for name, fact in zip(FACTS, _raw_facts(condition), strict=True)
    )


@dataclass
class Applied:
    """What changed. risen: alerts to be told of, as (id, rank); came_back: those of them that were at that rank within a
    day, whoever was told of which is not told again."""

    raised: int = 0
    cleared: int = 0
    risen: list[tuple[UUID, str]] = field(default_factory=list)
    came_back: set[UUID] = field(default_factory=set)


def apply(name: str, found: Iterable[Condition], *, at: datetime) -> Applied:
    """Raise, grow, clear and reopen the alerts of one rule. One query when nothing changed, and no write."""
    wanted = {(condition.subject_kind, condition.subject_id): condition for condition in found}
    standing: dict[Key, tuple[Any, ...]] = {
        (row[0], row[1]): row
        for row in Alert.objects.open()
        .filter(rule=name)
        .values_list("subject_kind", "subject_id", "pk", "fell_at", *FACTS)
    }
    done = Applied()
    grown = [
        (row, facts)
        for key, row in standing.items()
        if (condition := wanted.get(key)) is not None and (facts := _facts_of(condition)) != row[_FIRST_FACT:]
    ]
    if grown:
        _grow(grown, done, at=at)
    if gone := [row[2] for key, row in standing.items() if key not in wanted]:
        Alert.objects.filter(pk__in=gone).update(cleared_at=at, changed_at=at)
        done.cleared = len(gone)
    fresh = {
        key: condition
        for key, condition in wanted.items()
        if key not in standing and not condition.only_keeps
    }
    if fresh:
        _raise(name, fresh, done, at=at)
    return done


def _grow(grown: list[tuple[tuple[Any, ...], tuple[Any, ...]]], done: Applied, *, at: datetime) -> None:
    rows, rises, falls, stops = [], [], [], []
    for row, facts in grown:
        pk, fell_at = row[2], row[3]
        rows.append(Alert(pk=pk, changed_at=at, **dict(zip(FACTS, facts, strict=True))))
        before, now = RANK_ORDER[row[_FIRST_FACT + _RANK]], RANK_ORDER[facts[_RANK]]
        if now < before:
            rises.append(pk)
            done.risen.append((pk, facts[_RANK]))
            if fell_at is not None and at - fell_at < SAME_AFTER:
                done.came_back.add(pk)
        elif now > before:
            falls.append(pk)
        if now == 0:
            stops.append(pk)
    # A stop asks at once, whatever was set aside; before it is one, since the database refuses the two together.
    if stops:
        # Locked, so that nobody sets one aside between this and what follows.
        list(Alert.objects.select_for_update().filter(pk__in=stops).order_by("pk").values_list("pk"))
        Alert.objects.filter(pk__in=stops).exclude(held_until=None).update(**NOT_ASIDE)
    Alert.objects.bulk_update(rows, [*FACTS_FIELDS, "changed_at"], batch_size=BATCH)
    if rises:
        Alert.objects.filter(pk__in=rises).update(ranked_at=at)
    if falls:
        Alert.objects.filter(pk__in=falls).update(ranked_at=at, fell_at=at)


FACTS_FIELDS = tuple(name.removesuffix("_id") for name in FACTS)


def _raise(name: str, fresh: dict[Key, Condition], done: Applied, *, at: datetime) -> None:
    """New alerts, and those whose cause was gone for less than a day: they are the same ones, opened again."""
    lately = {
        (alert.subject_kind, alert.subject_id): alert
        for alert in Alert.objects.filter(rule=name, cleared_at__gt=at - SAME_AFTER).order_by("cleared_at")
    }
    reopened, made = [], []
    for key, condition in fresh.items():
        facts = dict(zip(FACTS, _facts_of(condition), strict=True))
        if (alert := lately.get(key)) is None:
            made.append(Alert(rule=name, subject_kind=key[0], subject_id=key[1], raised_at=at, **facts))
            continue
        if RANK_ORDER[facts["rank"]] != RANK_ORDER[alert.rank]:
            alert.ranked_at = at
        for fact, value in facts.items():
            setattr(alert, fact, value)
        alert.cleared_at, alert.reopened_at, alert.changed_at = None, at, at
        alert.times_reopened += 1
        if alert.rank == "stop":
            for field_name, nothing in NOT_ASIDE.items():
                setattr(alert, field_name, nothing)
        reopened.append(alert)
    Alert.objects.bulk_create(made, ignore_conflicts=True, batch_size=BATCH)
    written = [*FACTS_FIELDS, *NOT_ASIDE, "cleared_at", "reopened_at", "ranked_at", "changed_at"]
    Alert.objects.bulk_update(reopened, [*written, "times_reopened"], batch_size=BATCH)
    done.raised = len(made) + len(reopened)
    done.risen += [(alert.pk, alert.rank) for alert in [*made, *reopened]]
    done.came_back |= {alert.pk for alert in reopened}
