"""The sweep that raises and clears, and a person taking an alert in hand."""

from __future__ import annotations

import logging
import uuid
from dataclasses import asdict
from datetime import datetime
from typing import Any

from django.db import connection, transaction

from fleet.alerts.models import Alert, SweepRun
from fleet.alerts.rules import Condition, rules
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import Role

log = logging.getLogger("slake.alerts")

# Any fixed number: two sweeps at once would do the same work twice, so the second goes home.
SWEEP_LOCK = 7_245_301
WATCHDOG = "watch.rule_failed"
FIELDS = frozenset(
    {"subject_kind", "subject_id", "cart_id", "rank", "for_role", "what", "how_we_know", "if_not", "due_at"}
)
GROWS = ("cart_id", "rank", "for_role", "what", "how_we_know", "if_not", "due_at")


class AlertGone(Refusal):
    """The cause is gone and the alert has cleared itself."""


class AlreadyTaken(Refusal):
    """Somebody else has it."""


def _fields(condition: Condition) -> dict[str, Any]:
    return {name: value for name, value in asdict(condition).items() if name in FIELDS}


def _apply(name: str, found: list[Condition], *, at: datetime) -> tuple[int, int]:
    """Bring the open alerts of one rule in line with what is true. One alert grows in rank; it is never doubled."""
    wanted = {(condition.subject_kind, condition.subject_id): condition for condition in found}
    standing = {
        (alert.subject_kind, alert.subject_id): alert for alert in Alert.objects.open().filter(rule=name)
    }
    fresh = [
        Alert(rule=name, raised_at=at, **_fields(wanted[key]))
        for key in wanted.keys() - standing.keys()
        if not wanted[key].only_keeps
    ]
    grown = []
    for key in wanted.keys() & standing.keys():
        alert, facts = standing[key], _fields(wanted[key])
        if any(getattr(alert, field) != facts[field] for field in GROWS):
            for field in GROWS:
                setattr(alert, field, facts[field])
            grown.append(alert)
    gone = [standing[key].pk for key in standing.keys() - wanted.keys()]
    Alert.objects.bulk_create(fresh, ignore_conflicts=True, batch_size=500)
    Alert.objects.bulk_update(grown, GROWS, batch_size=500)
    Alert.objects.filter(pk__in=gone).update(cleared_at=at)
    return len(fresh), len(gone)


def _watchdog(failed: list[str]) -> list[Condition]:
    return [
        Condition(
            subject_kind="rule",
            subject_id=uuid.uuid5(uuid.NAMESPACE_URL, f"slake:rule:{name}"),
            cart_id=None,
            rank="today",
            for_role=Role.FLEET_MANAGER,
            what=f"The watch “{name}” could not be kept.",
            how_we_know="Its last look at the records ended in an error; its alerts stay as they were.",
            if_not="What it watches may lapse unseen: look at those records yourself until this clears.",
        )
        for name in failed
    ]


@transaction.atomic
def sweep(*, at: datetime) -> SweepRun | None:
    """Look at every rule once; raise what became true, clear what no longer is. None when another sweep is at work.

    A rule that raises leaves its alerts as they were and is itself alerted. Run again at once it changes nothing.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [SWEEP_LOCK])
        if not cursor.fetchone()[0]:
            return None
    run = SweepRun(started_at=at)
    failed: list[str] = []
    for name, find in sorted(rules().items()):
        try:
            with transaction.atomic():
                raised, cleared = _apply(name, list(find(at)), at=at)
        except Exception:
            log.exception("alerts.rule_failed", extra={"facts": {"rule": name}})
            failed.append(name)
        else:
            run.raised += raised
            run.cleared += cleared
    raised, cleared = _apply(WATCHDOG, _watchdog(failed), at=at)
    run.raised += raised
    run.cleared += cleared
    run.failed_rules = ", ".join(failed)[:400]
    run.finished_at = at
    run.save(force_insert=True)
    return run


@transaction.atomic
def take_alert(*, alert: Alert, by: Staff, at: datetime) -> Alert:
    """One named person says “I’ve got it” and has the alert in hand. NotAllowed, AlertGone, AlreadyTaken."""
    alert = Alert.objects.select_for_update(of=("self",)).select_related("taken_by", "cart").get(pk=alert.pk)
    if by.role not in (alert.for_role, Role.FLEET_MANAGER):
        raise NotAllowed(f"This alert is for the {Role(alert.for_role).label.lower()}.")
    if alert.cleared_at is not None:
        raise AlertGone("This has cleared by itself: the cause is gone.")
    if alert.taken_by is not None:
        if alert.taken_by == by:
            return alert
        raise AlreadyTaken(f"{alert.taken_by.full_name} has it already.")
    alert.taken_by, alert.taken_at = by, at
    alert.save(update_fields=["taken_by", "taken_at"])
    write_journal(
        event=Event.ALERT_TAKEN,
        subject=("alert", alert.pk),
        chains=[cart_chain(alert.cart_id) if alert.cart_id else YARD],
        by=by,
        at=at,
        facts={"rule": alert.rule, "what": alert.what},
    )
    return alert
