"""The sweep that raises and clears, and a person taking an alert in hand or setting it aside."""

from __future__ import annotations

import logging
import uuid
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import connection, transaction

from fleet.alerts.applying import Applied, apply
from fleet.alerts.models import Alert, SweepRun
from fleet.alerts.models.alerts import NOT_ASIDE
from fleet.alerts.owing import owe, owe_coming_back
from fleet.alerts.rules import Condition, rules
from fleet.alerts.timing import LONGEST_HELD_DAYS
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import Role
from people.yard import yard_day

log = logging.getLogger("slake.alerts")

# Any fixed number: two sweeps at once would do the same work twice, so the second goes home.
SWEEP_LOCK = 7_245_301
WATCHDOG = "watch.rule_failed"
SWEEP_STOPPED = "watch.sweep_stopped"


class AlertGone(Refusal):
    """The cause is gone and the alert has cleared itself."""


class AlreadyTaken(Refusal):
    """Somebody else has it."""


class StopNotSetAside(Refusal):
    """A stop is dealt with or passed by authority, never put out of sight."""


class TooLongAside(Refusal):
    """Set aside until a day that is past, today, or too far."""

    field = "until"


class ReasonMissing(Refusal):
    """Set aside without saying why."""

    field = "because"


def _watch_condition(rule: str, *, what: str, how_we_know: str, if_not: str) -> Condition:
    return Condition(
        subject_kind="rule",
        subject_id=uuid.uuid5(uuid.NAMESPACE_URL, f"slake:rule:{rule}"),
        cart_id=None,
        rank="today",
        for_role=Role.FLEET_MANAGER,
        what=what,
        how_we_know=how_we_know,
        if_not=if_not,
    )


def _watchdog(failed: list[str]) -> list[Condition]:
    return [
        _watch_condition(
            name,
            what=f"The watch “{name}” could not be kept.",
            how_we_know="Its last look at the records ended in an error; its alerts stay as they were.",
            if_not="What it watches may lapse unseen: look at those records yourself until this clears.",
        )
        for name in failed
    ]


def _hold_sweep_lock() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [SWEEP_LOCK])
        row = cursor.fetchone()
    return bool(row and row[0])


@transaction.atomic
def sweep(*, at: datetime) -> SweepRun | None:
    """Look at every rule once; raise what became true, clear what no longer is, and owe who must be told. None when another
    sweep is at work.

    A rule that raises leaves its alerts as they were and is itself alerted. Run again at once it changes nothing.
    """
    if not _hold_sweep_lock():
        return None
    run = SweepRun(started_at=at)
    failed: list[str] = []
    done: list[Applied] = []
    for name, find in sorted(rules().items()):
        try:
            with transaction.atomic():
                done.append(apply(name, find(at), at=at))
        except Exception:
            log.exception("alerts.rule_failed", extra={"facts": {"rule": name}})
            failed.append(name)
    done.append(apply(WATCHDOG, _watchdog(failed), at=at))
    # This sweep lives, so the one that was missed is over.
    done.append(apply(SWEEP_STOPPED, [], at=at))
    owe(
        [one for each in done for one in each.risen],
        came_back={pk for each in done for pk in each.came_back},
        at=at,
    )
    run.raised = sum(each.raised for each in done)
    run.cleared = sum(each.cleared for each in done)
    run.failed_rules = ", ".join(failed)[:400]
    run.finished_at = at
    run.save(force_insert=True)
    return run


def is_sweep_late(last: datetime | None, *, at: datetime) -> bool:
    """Whether the newest finished sweep is over two periods old. False when none has run: a yard just set up."""
    return last is not None and at - last > 2 * timedelta(seconds=settings.SWEEP_PERIOD_SECONDS)


@transaction.atomic
def watch_the_sweep(*, at: datetime) -> bool:
    """Raise an alert when the sweep has stopped; called by whoever sends notices, never by the sweep. True: it is raised."""
    last = SweepRun.objects.last_finished_at()
    if last is None or not is_sweep_late(last, at=at) or not _hold_sweep_lock():
        return False
    minutes = settings.SWEEP_PERIOD_SECONDS // 60
    stopped = _watch_condition(
        SWEEP_STOPPED,
        what="The watch over the yard has stopped: no rule is being looked at.",
        how_we_know=f"It should look every {minutes} minutes and has missed at least two of its times.",
        if_not="Services, papers and checks lapse unseen. Look at the worker's log, then start it again.",
    )
    done = apply(SWEEP_STOPPED, [stopped], at=at)
    owe(done.risen, came_back=done.came_back, at=at)
    return True


def _may_deal_with(alert: Alert, person: Staff) -> bool:
    """The role it is for, the fleet manager, and whoever was told of it by name."""
    return (
        person.role in (alert.for_role, Role.FLEET_MANAGER) or alert.tellings.filter(person=person).exists()
    )


def _locked(alert: Alert, *, by: Staff) -> Alert:
    alert = Alert.objects.select_for_update(of=("self",)).select_related("taken_by", "cart").get(pk=alert.pk)
    if not _may_deal_with(alert, by):
        raise NotAllowed(f"This alert is for the {Role(alert.for_role).label.lower()}.")
    if alert.cleared_at is not None:
        raise AlertGone("This has cleared by itself: the cause is gone.")
    return alert


def _journal(event: Event, alert: Alert, *, by: Staff, at: datetime, **facts: object) -> None:
    write_journal(
        event=event,
        subject=("alert", alert.pk),
        chains=[cart_chain(alert.cart_id) if alert.cart_id else YARD],
        by=by,
        at=at,
        facts={"rule": alert.rule, "what": alert.what} | facts,
    )


@transaction.atomic
def take_alert(*, alert: Alert, by: Staff, at: datetime) -> Alert:
    """One named person says “I’ve got it” and has the alert in hand. NotAllowed, AlertGone, AlreadyTaken.

    One that became a stop after it was taken asks again, and whoever answers has it.
    """
    alert = _locked(alert, by=by)
    if alert.taken_by is not None and alert.is_in_hand:
        if alert.taken_by == by:
            return alert
        raise AlreadyTaken(f"{alert.taken_by.full_name} has it already.")
    alert.taken_by, alert.taken_at, alert.changed_at = by, at, at
    alert.save(update_fields=["taken_by", "taken_at", "changed_at"])
    _journal(Event.ALERT_TAKEN, alert, by=by, at=at)
    return alert


@transaction.atomic
def set_alert_aside(*, alert: Alert, until: date, because: str, by: Staff, at: datetime) -> Alert:
    """Put an alert out of sight until a day within two weeks, because of something. It comes back by itself on that day, or
    at once when it becomes a stop. NotAllowed, AlertGone, StopNotSetAside, TooLongAside, ReasonMissing."""
    alert, today = _locked(alert, by=by), yard_day(at)
    if alert.rank == "stop":
        raise StopNotSetAside(f"A stop is never set aside. {alert.if_not}")
    if not today < until <= today + timedelta(days=LONGEST_HELD_DAYS):
        raise TooLongAside(f"Choose a day from tomorrow to {LONGEST_HELD_DAYS} days from now.")
    if not because.strip():
        raise ReasonMissing("Say why it can wait.")
    alert.held_on, alert.held_until, alert.held_because = today, until, because.strip()
    alert.held_by, alert.held_at, alert.changed_at = by, at, at
    alert.times_held += 1
    alert.save(update_fields=[*NOT_ASIDE, "times_held", "changed_at"])
    owe_coming_back(alert, on=until)
    _journal(Event.ALERT_SET_ASIDE, alert, by=by, at=at, until=until.isoformat(), because=alert.held_because)
    return alert


@transaction.atomic
def bring_alert_back(*, alert: Alert, by: Staff, at: datetime) -> Alert:
    """Let a set-aside alert ask again now. Twice does nothing more. NotAllowed, AlertGone."""
    alert = _locked(alert, by=by)
    if not alert.is_aside(on=yard_day(at)):
        return alert
    for name, nothing in NOT_ASIDE.items():
        setattr(alert, name, nothing)
    alert.changed_at = at
    alert.save(update_fields=[*NOT_ASIDE, "changed_at"])
    _journal(Event.ALERT_BROUGHT_BACK, alert, by=by, at=at)
    return alert
