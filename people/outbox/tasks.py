from celery import shared_task
from django.utils import timezone

from people.outbox.actions import deliver_next, nudge


@shared_task(name="people.outbox.tasks.sweep_outbox")
def sweep_outbox(limit: int = 10) -> int:
    """Do what waits, up to `limit` messages so that one task stays far below its time limit, then ask for another.

    Two sweeps at once share the work, never double it.
    """
    done = 0
    while done < limit and deliver_next(at=timezone.now()):
        done += 1
    if done == limit:
        nudge()
    return done
