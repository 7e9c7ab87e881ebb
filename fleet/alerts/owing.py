"""Writing down whom an alert must be told to, step by step, in the transaction that raised it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, datetime, time
from functools import cache
from uuid import UUID

from fleet.alerts.models import Alert, Telling
from fleet.alerts.models.notices import BACK_AGAIN
from fleet.alerts.timing import Hours, available_at, steps
from people.yard import at_local, yard_policy

BATCH = 500
# Dropped before anybody heard of it, so it is no repetition to tell it after all.
UNHEARD = ("cleared", "other_rank")


@cache
def yard_hours() -> Hours:
    """The hours of this yard, from its policy."""
    policy = yard_policy()
    return Hours(
        zone=policy.zone,
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
        digest_at=policy.digest_at,
        working_days=policy.working_days,
        stop_after=(policy.stop_next_after, policy.stop_manager_after),
    )


def owe(risen: Iterable[tuple[UUID, str]], *, came_back: Collection[UUID], at: datetime) -> None:
    """Owe the tellings of alerts that were raised, opened again, or have risen to a rank.

    Whoever was told of one that came back within a day is not told again; a step that was dropped because it was gone for
    the moment is owed after all, counted from now. One that rises to a rank again after longer is told as a new turn.
    """
    wanted = list(risen)
    if not wanted:
        return
    before: defaultdict[tuple[UUID, str], list[Telling]] = defaultdict(list)
    for telling in Telling.objects.filter(alert__in=[pk for pk, _ in wanted], step__lt=BACK_AGAIN):
        before[telling.alert_id, telling.rank].append(telling)
    due = {rank: steps(rank, at=at, hours=yard_hours()) for rank in {rank for _, rank in wanted}}
    made, revived = [], []
    for pk, rank in wanted:
        earlier = before[pk, rank]
        turn = max((telling.turn for telling in earlier), default=-1)
        if earlier and pk in came_back:
            revived += _revive([one for one in earlier if one.turn == turn], due[rank])
            continue
        made += [
            Telling(alert_id=pk, rank=rank, turn=turn + 1, step=step, available_at=when)
            for step, when in enumerate(due[rank])
        ]
    Telling.objects.bulk_create(made, ignore_conflicts=True, batch_size=BATCH)
    Telling.objects.bulk_update(revived, ["outcome", "settled_at", "available_at"], batch_size=BATCH)


def _revive(earlier: list[Telling], due: tuple[datetime, ...]) -> list[Telling]:
    """The dropped steps, due anew, and with them the further steps that still wait. Where none was dropped the line goes on
    as it was: a cause that comes and goes must not put it off for ever."""
    unheard = [one for one in earlier if one.outcome in UNHEARD and one.step < len(due)]
    first = min((one.step for one in unheard), default=len(due))
    anew = [one for one in earlier if first <= one.step < len(due) and one.outcome in ("", *UNHEARD)]
    for one in anew:
        one.outcome, one.settled_at, one.available_at = "", None, due[one.step]
    return anew


def owe_coming_back(alert: Alert, *, on: date) -> None:
    """Owe the telling of a set-aside alert on the day it asks again."""
    hours, morning = yard_hours(), at_local(on, time.min)
    Telling.objects.create(
        alert=alert,
        rank=alert.rank,
        step=BACK_AGAIN + alert.times_held,
        available_at=available_at(alert.rank, at=morning, hours=hours),
    )
