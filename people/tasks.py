from celery import shared_task
from django.core.management import call_command


@shared_task(name="people.tasks.forget_ended_sessions")
def forget_ended_sessions() -> None:
    call_command("clearsessions")
