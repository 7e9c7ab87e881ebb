"""The one Celery application. Messages carry ids only; the database is the truth and every task may run twice."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.production")

app = Celery("slake")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
