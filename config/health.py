"""/healthz: this process answers. /readyz: what it needs answers too, each part named."""

from datetime import timedelta

import redis
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.alerts.models import SweepRun


@login_not_required
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    return HttpResponse("alive\n", content_type="text/plain")


def _database() -> tuple[bool, str]:
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False, "does not answer"
    return not waiting, f"{len(waiting)} migrations wait" if waiting else "answers, migrated"


def _broker() -> tuple[bool, str]:
    try:
        redis.Redis.from_url(settings.CELERY_BROKER_URL, socket_timeout=2, socket_connect_timeout=2).ping()
    except (redis.RedisError, ValueError):
        # ValueError: an address that is no Redis at all.
        return False, "does not answer"
    return True, "answers"


def _sweep() -> tuple[bool, str]:
    # Two periods and a bit: one missed beat is chance, two are a stopped clock.
    try:
        last = (
            SweepRun.objects.finished().order_by("-finished_at").values_list("finished_at", flat=True).first()
        )
    except DatabaseError:
        return False, "unknown"
    if last is None:
        return True, "has not run yet"
    age = timezone.now() - last
    return age <= timedelta(
        seconds=2.5 * settings.SWEEP_PERIOD_SECONDS
    ), f"finished {int(age.total_seconds())} s ago"


def _mail() -> tuple[bool, str]:
    # A yard may start without: its alerts are then on screen only, and the alerts page says so.
    return True, "set up" if settings.MAIL_IS_SET else "not set up: alerts are on screen only"


@login_not_required
@require_safe
def readyz(request: HttpRequest) -> HttpResponse:
    parts = {"database": _database(), "broker": _broker(), "last sweep": _sweep(), "mail": _mail()}
    ready = all(ok for ok, _ in parts.values())
    body = {name: {"ready": ok, "words": words} for name, (ok, words) in parts.items()}
    return JsonResponse({"ready": ready} | body, status=200 if ready else 503)
