from celery import shared_task
from django.utils import timezone

from people.outbox.actions import deliver_next


@shared_task(name="people.outbox.tasks.sweep_outbox")
def sweep_outbox(limit: int = 50) -> int:
    """Do what waits, up to `limit` messages; two sweeps at once share the work, never double it."""
    done = 0
    while done < limit and deliver_next(at=timezone.now()):
        done += 1
    return done
