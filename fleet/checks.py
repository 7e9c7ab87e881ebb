"""System checks of the fleet: readiness without one of its providers would say yes too easily."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, register

from fleet.readiness import provider_names


@register()
def readiness_has_all_its_providers(
    app_configs: Sequence[AppConfig] | None, **kwargs: Any
) -> list[CheckMessage]:
    missing = sorted(set(settings.READINESS_PROVIDERS) - provider_names())
    return [Error(f"Readiness has no provider from {name}.", id="slake.E010") for name in missing]
