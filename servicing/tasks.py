from celery import shared_task
from django.utils import timezone

from servicing.tyre_forecasts import make_tyre_forecasts


@shared_task(name="servicing.tasks.forecast_tyres")
def forecast_tyres() -> None:
    """Safe to run twice: the second writes the same figures again."""
    make_tyre_forecasts(at=timezone.now())
