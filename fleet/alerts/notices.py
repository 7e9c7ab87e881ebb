"""Putting due tellings together: what is due at once for one role and one rule becomes one notice to one person."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db import connection, transaction

from fleet.alerts.letters import letter
from fleet.alerts.line import Line, channels
from fleet.alerts.models import Alert, Delivery, Notice, Telling
from fleet.alerts.models.notices import BACK_AGAIN
from fleet.alerts.owing import yard_hours
from fleet.alerts.rules import heading_of
from fleet.alerts.timing import RANK_ORDER, is_last_step, is_working, steps
from people.models import Staff
from people.roles import Role
from people.templatetags.screen import span_words
from people.yard import yard_day

# Any fixed number: two at once would put the same tellings into two notices.
NOTICES_LOCK = 7_245_302
BATCH = 500


class Group(NamedTuple):
    """What goes together. rule: empty for the digest, which takes all of a role's."""

    rank: str
    rule: str
    role: str
    step: int
    taker: UUID | None
    told: frozenset[UUID]


@transaction.atomic
def put_together(*, at: datetime) -> list[Notice]:
    """Make notices of the tellings that are due, and settle those nobody needs to hear any more.

    One at a time; whoever comes second finds them settled. Nobody is chosen before it is due, so that the roster of that
    moment counts.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [NOTICES_LOCK])
        row = cursor.fetchone()
    if not (row and row[0]):
        return []
    waiting = Telling.objects.waiting(at=at)
    if not is_working(at, hours=yard_hours()):
        # Late, after an outage, is no reason to disturb anybody's night.
        waiting = waiting.filter(rank="stop")
    due = list(
        waiting.select_for_update(of=("self",))
        .select_related("alert", "alert__cart")
        .order_by("available_at", "step", "pk")
    )
    if not due:
        return []
    wanted = []
    for telling in due:
        if outcome := _needless(telling, at=at):
            _settle(telling, outcome, at=at)
        else:
            wanted.append(telling)
    notices, deliveries = _compose(wanted, at=at)
    Notice.objects.bulk_create(notices, batch_size=BATCH)
    Delivery.objects.bulk_create(deliveries, batch_size=BATCH)
    Telling.objects.bulk_update(due, ["outcome", "settled_at", "notice", "person"], batch_size=BATCH)
    _go_on_up([telling for telling in wanted if telling.step >= BACK_AGAIN], at=at)
    return notices


def _go_on_up(back: Sequence[Telling], *, at: datetime) -> None:
    """What was set aside and asks again goes up the line as anything else does: the steps it missed meanwhile are due anew."""
    for rank in {telling.alert.rank for telling in back}:
        alerts = [telling.alert_id for telling in back if telling.alert.rank == rank]
        for step, when in list(enumerate(steps(rank, at=at, hours=yard_hours())))[1:]:
            missed = Telling.objects.filter(alert__in=alerts, rank=rank, step=step, outcome="aside")
            missed.update(outcome="", settled_at=None, available_at=when)


def _told(due: Sequence[Telling]) -> defaultdict[tuple[UUID, str, int], set[UUID]]:
    """Who was told of each of these alerts at this rank and turn."""
    told: defaultdict[tuple[UUID, str, int], set[UUID]] = defaultdict(set)
    earlier = Telling.objects.filter(alert__in={one.alert_id for one in due}, outcome="told")
    for one in earlier.filter(step__lt=BACK_AGAIN):
        assert one.person_id is not None
        told[one.alert_id, one.rank, one.turn].add(one.person_id)
    return told


def _needless(telling: Telling, *, at: datetime) -> str:
    """Why nobody needs to hear this any more, or "" when somebody does."""
    alert, is_back = telling.alert, telling.step >= BACK_AGAIN
    if alert.cleared_at is not None:
        return "cleared"
    if alert.is_aside(on=yard_day(at)) or (is_back and telling.step != BACK_AGAIN + alert.times_held):
        return "aside"
    if is_back:
        # Brought back early, it asks already.
        return "" if alert.held_until is not None else "aside"
    if telling.rank != alert.rank:
        return "other_rank"
    return "taken" if telling.step and alert.is_in_hand else ""


def _settle(telling: Telling, outcome: str, *, at: datetime, notice: Notice | None = None) -> None:
    telling.outcome, telling.settled_at = outcome, at
    telling.notice, telling.person = notice, notice.person if notice else None


def _group(telling: Telling, told: dict[tuple[UUID, str, int], set[UUID]]) -> Group:
    alert = telling.alert
    return Group(
        rank=alert.rank,
        rule="" if alert.rank == "soon" else alert.rule,
        role=alert.for_role,
        step=min(BACK_AGAIN, telling.step),
        # One that grew after somebody took it is that person's to hear of first.
        taker=alert.taken_by_id if telling.step == 0 else None,
        told=frozenset(told.get((alert.pk, telling.rank, telling.turn), ())) if telling.step else frozenset(),
    )


def _compose(wanted: Sequence[Telling], *, at: datetime) -> tuple[list[Notice], list[Delivery]]:
    """Step by step, so that where several are due at once, after an outage, each tells somebody else."""
    line, told = Line(at=at), _told(wanted)
    notices: list[Notice] = []
    deliveries: list[Delivery] = []
    for step in sorted({telling.step for telling in wanted}):
        groups: defaultdict[Group, list[Telling]] = defaultdict(list)
        for telling in wanted:
            if telling.step == step:
                groups[_group(telling, told)].append(telling)
        for group, tellings in sorted(groups.items(), key=lambda item: RANK_ORDER[item[0].rank]):
            person = line.people.get(group.taker) if group.taker else None
            person = person or line.next_up(
                rank=group.rank, role=group.role, step=group.step, told=group.told
            )
            notice = None
            if person is not None:
                notice = _notice(group, [telling.alert for telling in tellings], person, line, at=at)
                notices.append(notice)
                deliveries += _deliveries(notice, person, group.rank, at=at)
            for telling in tellings:
                _settle(telling, "told" if notice else "nobody", at=at, notice=notice)
                if person is not None:
                    told[telling.alert_id, telling.rank, telling.turn].add(person.pk)
    return notices, deliveries


def _notice(group: Group, alerts: list[Alert], person: Staff, line: Line, *, at: datetime) -> Notice:
    why = _why(group, person, line)
    if group.rank == "soon":
        alerts.sort(key=lambda alert: (heading_of(alert.rule), alert.due_at is None, alert.due_at or at))
    else:
        alerts.sort(key=lambda alert: (alert.due_at is None, alert.due_at or at, alert.what))
    words = letter(alerts, person=person, rank=group.rank, why=why, further=_further(group), at=at)
    notice = Notice(
        person=person,
        rank=group.rank,
        why=why,
        subject=words.subject,
        body=words.body,
        spoken=words.spoken,
        made_at=at,
    )
    notice.key = f"notice:{notice.pk}"
    return notice


def _why(group: Group, person: Staff, line: Line) -> str:
    """Why this person is told, as said to them."""
    if group.taker == person.pk:
        return "you have this in hand, and it has grown."
    if group.step >= BACK_AGAIN:
        return "it was set aside until today."
    if group.step:
        waited = (
            "one working day"
            if group.rank == "today"
            else span_words(yard_hours().stop_after[group.step - 1])
        )
        return f"nobody has taken it for {waited}."
    if person.pk in line.on_call and group.rank == "stop":
        return "you are on call."
    if person.role == group.role:
        return f"it is for the {person.role_label.lower()}."
    return f"nobody else who is the {Role(group.role).label.lower()} can be told."


def _further(group: Group) -> str:
    """What happens if nobody takes it."""
    hours = yard_hours()
    if group.step >= BACK_AGAIN or group.rank == "soon" or is_last_step(group.rank, group.step, hours=hours):
        return ""
    if group.rank == "today":
        return "If nobody takes it, the fleet manager is told one working day from now."
    waited = (timedelta(0), *hours.stop_after)
    whom = "the fleet manager" if is_last_step(group.rank, group.step + 1, hours=hours) else "the next person"
    return f"If nobody takes it within {span_words(waited[group.step + 1] - waited[group.step])}, {whom} is told."


def _deliveries(notice: Notice, person: Staff, rank: str, *, at: datetime) -> list[Delivery]:
    ways = channels(person, rank)
    if not ways:
        # Nothing leaves the house: the page is how they hear of it, and says so.
        return [Delivery(notice=notice, channel="screen", available_at=at, sent_at=at)]
    return [
        Delivery(notice=notice, channel=channel, address=address, available_at=at)
        for channel, address in ways
    ]
