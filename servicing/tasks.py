from celery import shared_task
from django.utils import timezone

from servicing.service_book import reckon_all


@shared_task(name="servicing.tasks.reckon_services")
def reckon_services() -> None:
    """Safe to run twice: the second finds nothing to change."""
    reckon_all(at=timezone.now())
