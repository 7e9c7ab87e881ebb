"""Celery. At least once: late acknowledgement, ids only, and a sweep that would find the same work if Redis were wiped."""

from celery.schedules import crontab

from config.env import environment as env

CELERY_BROKER_URL = env.text("SLAKE_REDIS_URL")
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    "socket_timeout": 5,
    "socket_connect_timeout": 2,
}
# A nudge is a courtesy: when Redis is away the request must not wait for it, the sweep comes round anyway.
CELERY_TASK_PUBLISH_RETRY = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 180
CELERY_TASK_SOFT_TIME_LIMIT = 150
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = "UTC"
CELERY_WORKER_HIJACK_ROOT_LOGGER = False

SWEEP_PERIOD_SECONDS = 300
CELERY_BEAT_SCHEDULE = {
    "outbox": {"task": "people.outbox.tasks.sweep_outbox", "schedule": 15.0, "options": {"expires": 15}},
    "alerts": {
        "task": "fleet.alerts.tasks.sweep_alerts",
        "schedule": float(SWEEP_PERIOD_SECONDS),
        "options": {"expires": SWEEP_PERIOD_SECONDS},
    },
    "services": {"task": "servicing.tasks.reckon_services", "schedule": 900.0, "options": {"expires": 900}},
    "tyre forecasts": {
        "task": "servicing.tasks.forecast_tyres",
        "schedule": crontab(minute="40"),
        "options": {"expires": 1800},
    },
    # Apart from the sweep, so that a dead sweep is told by somebody else.
    "notices": {
        "task": "fleet.alerts.tasks.send_notices",
        "schedule": 15.0,
        "options": {"expires": 15},
    },
    "sessions": {"task": "people.tasks.forget_ended_sessions", "schedule": crontab(hour="16", minute="10")},
    "photo parts": {
        "task": "fleet.tasks.forget_old_photo_parts",
        "schedule": crontab(hour="16", minute="20"),
    },
    "repair times": {
        "task": "servicing.tasks.learn_repair_times",
        "schedule": crontab(hour="16", minute="30"),
    },
    "ended fixes": {"task": "servicing.tasks.tell_ended_fixes", "schedule": crontab(minute="5")},
}
