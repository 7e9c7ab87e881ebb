"""Putting work in the outbox, and doing it: claimed with SKIP LOCKED, tried again later when it fails."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection, transaction

from people.outbox.handlers import handler_for
from people.outbox.models import Message
from people.say import reading

log = logging.getLogger("slake.outbox")


def enqueue(*, kind: str, subject_id: UUID, at: datetime) -> Message:
    """Add work to the outbox inside the caller's transaction and nudge a worker after its commit.

    The same work already waiting is returned instead of doubled. RuntimeError outside a transaction.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("Outbox work is enqueued inside the action's own transaction.")
    message, _ = Message.objects.get_or_create(
        kind=kind, subject_id=subject_id, done_at=None, defaults={"made_at": at, "available_at": at}
    )
    transaction.on_commit(nudge)
    return message


def nudge() -> None:
    """Ask a worker to look now. When the broker is away this says so in the log and the beat's sweep does the work."""
    from people.outbox.tasks import sweep_outbox  # noqa: PLC0415 - the task calls back into this module

    try:
        sweep_outbox.apply_async(expires=60)
    except Exception:  # noqa: BLE001 - whatever the broker client raises, the row is safe and the request is not its victim
        log.warning("outbox.nudge_failed")


def deliver_next(*, at: datetime) -> bool:
    """Claim and do one waiting message. True when there was one, whether or not it succeeded.

    The claim is the row lock: a worker that dies lets go of it and another finds the row as it was.
    """
    with transaction.atomic():
        message = (
            Message.objects.waiting(at=at)
            .select_for_update(skip_locked=True)
            .order_by("available_at")
            .first()
        )
        if message is None:
            return False
        message.tries += 1
        try:
            with reading(), transaction.atomic():
                handler_for(message.kind)(message.subject_id, at)
        except Exception as error:
            log.exception("outbox.failed", extra={"facts": {"kind": message.kind, "tries": message.tries}})
            message.last_error = f"{type(error).__name__}: {error}"[:2000]
            message.available_at = at + timedelta(seconds=min(3600, 5 * 2**message.tries))
        else:
            message.done_at = at
            message.last_error = ""
        message.save(update_fields=["tries", "last_error", "available_at", "done_at"])
    return True
