"""Settings of the worker and the schedule that tests/faults/test_killed_clock.py knocks down: the real ones, in a hurry."""

from config.settings.demo import *  # noqa: F403

CELERY_BEAT_SCHEDULE = {
    "alerts": {"task": "fleet.alerts.tasks.sweep_alerts", "schedule": 1.5, "options": {"expires": 3}},
    "notices": {"task": "fleet.alerts.tasks.send_notices", "schedule": 1.0, "options": {"expires": 3}},
}
NOTICE_LEASE_SECONDS = 6
EMAIL_TIMEOUT = 2
