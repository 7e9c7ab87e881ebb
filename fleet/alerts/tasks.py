from celery import shared_task
from django.utils import timezone

from fleet.alerts.actions import sweep, watch_the_sweep
from fleet.alerts.notices import put_together
from fleet.alerts.report import owe_report
from fleet.alerts.sending import deliver_next
from people.say import reading


@shared_task(name="fleet.alerts.tasks.sweep_alerts")
def sweep_alerts() -> None:
    """Safe to run twice: the second finds nothing to change, and two at once take turns."""
    with reading():
        sweep(at=timezone.now())


@shared_task(name="fleet.alerts.tasks.send_notices")
def send_notices(limit: int = 12) -> int:
    """Put together what is due and send it, up to `limit` deliveries so that one run stays far below its time limit; the
    next run sends the rest. Two at once share the work, never double it."""
    at = timezone.now()
    with reading():
        watch_the_sweep(at=at)
        owe_report(at=at)
        put_together(at=at)
    sent = 0
    while sent < limit and deliver_next(at=timezone.now()):
        sent += 1
    return sent
