from celery import shared_task
from django.utils import timezone

from fleet.actions.photo_parts import forget_old_parts


@shared_task(name="fleet.tasks.forget_old_photo_parts")
def forget_old_photo_parts() -> None:
    """Safe to run twice: the second finds nothing to drop."""
    forget_old_parts(at=timezone.now())
