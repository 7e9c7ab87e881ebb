"""System checks of the deployment itself."""

import os
from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.security, deploy=True)
def web_cannot_read_the_seal_key(
    app_configs: Sequence[AppConfig] | None, **kwargs: Any
) -> list[CheckMessage]:
    """The seal's private key belongs to the worker alone; a web process that can read it could forge a paper."""
    if os.environ.get("SLAKE_PROCESS") == "worker" or not os.access(settings.SEAL_KEY_FILE, os.R_OK):
        return []
    return [
        Error(
            f"This process can read the seal's private key at {settings.SEAL_KEY_FILE}.",
            hint="Mount the key into the worker container only.",
            id="slake.E001",
        )
    ]
