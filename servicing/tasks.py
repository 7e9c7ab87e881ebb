from celery import shared_task
from django.utils import timezone

from fleet.models.defects import Defect
from people.yard import yard_day
from servicing.actions.learning import rebuild_repair_times
from servicing.actions.repairs import end_temporary_fix
from servicing.returning import ended_fixes
from servicing.service_book import reckon_all
from servicing.tyre_forecasts import make_tyre_forecasts


@shared_task(name="servicing.tasks.reckon_services")
def reckon_services() -> None:
    """Safe to run twice: the second finds nothing to change."""
    reckon_all(at=timezone.now())


@shared_task(name="servicing.tasks.learn_repair_times")
def learn_repair_times() -> None:
    """Safe to run twice: the second reckons the same."""
    rebuild_repair_times(at=timezone.now())


@shared_task(name="servicing.tasks.tell_ended_fixes")
def tell_ended_fixes() -> None:
    """Safe to run twice: what was told is not told again."""
    at = timezone.now()
    for defect in ended_fixes(Defect.objects.all(), on=yard_day(at)):
        end_temporary_fix(defect=defect, by=None, at=at)


@shared_task(name="servicing.tasks.forecast_tyres")
def forecast_tyres() -> None:
    """Safe to run twice: the second writes the same figures again."""
    make_tyre_forecasts(at=timezone.now())
