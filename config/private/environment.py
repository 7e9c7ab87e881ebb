"""The environment each of our processes is given: by name, and no more than it needs."""

import os
from collections.abc import Mapping

from config.private.folder import DataFolder
from config.private.services import Addresses

# Settings of these families are decided here; YARD_ is the person's own to set.
_DECIDED_HERE = ("SLAKE_", "DJANGO_", "PG", "CELERY_", "GRANIAN_")


def base_environment() -> dict[str, str]:
    """The caller's own environment without whatever could point our processes at another database or setting."""
    return {name: value for name, value in os.environ.items() if not name.startswith(_DECIDED_HERE)} | {
        "PYTHONUNBUFFERED": "1",
    }


def demo_environment(
    folder: DataFolder, addresses: Addresses, secrets: Mapping[str, str], port: int | None
) -> dict[str, str]:
    """What the web server, the schedule and `./run manage` are given: the application's role, no seal key."""
    public_address = {"SLAKE_PUBLIC_ADDRESS": f"http://127.0.0.1:{port}"} if port else {}
    return (
        base_environment()
        | {
            "SLAKE_MODE": "demo",
            "DJANGO_SETTINGS_MODULE": "config.settings.demo",
            "SLAKE_DATABASE_URL": addresses.database,
            "SLAKE_REDIS_URL": addresses.redis,
            "SLAKE_SECRET_KEY": secrets["secret_key"],
            "SLAKE_ALLOWED_HOSTS": "127.0.0.1,localhost",
            "SLAKE_FILES_DIR": str(folder.files),
            "SLAKE_STATIC_DIR": str(folder.static),
            "SLAKE_MAIL_DIR": str(folder.mail),
        }
        | public_address
    )


def only_ours(environment: Mapping[str, str]) -> dict[str, str]:
    """What was decided here, without the caller's own environment around it."""
    return {name: value for name, value in environment.items() if name.startswith(_DECIDED_HERE)}


def as_owner(environment: Mapping[str, str], addresses: Addresses) -> dict[str, str]:
    """The same with the owner's role, for what changes tables and privileges."""
    return {
        **environment,
        "SLAKE_DATABASE_ROLE": "owner",
        "SLAKE_OWNER_DATABASE_URL": addresses.owner_database,
    }


def with_seal_key(environment: Mapping[str, str], folder: DataFolder) -> dict[str, str]:
    """The same with the way to the seal's private key, for the worker alone."""
    return {
        **environment,
        "SLAKE_PROCESS": "worker",
        "SLAKE_SEAL_KEY_FILE": str(folder.seal_key),
        "SLAKE_SEAL_CERT_FILE": str(folder.seal_certificate),
    }


def test_environment(folder: DataFolder, addresses: Addresses, secrets: Mapping[str, str]) -> dict[str, str]:
    """What pytest is given: the owner's role, and the application's address for tests of its privileges."""
    return base_environment() | {
        "SLAKE_MODE": "test",
        "DJANGO_SETTINGS_MODULE": "config.settings.test",
        "SLAKE_DATABASE_URL": addresses.database,
        "SLAKE_OWNER_DATABASE_URL": addresses.owner_database,
        "SLAKE_REDIS_URL": addresses.redis,
        "SLAKE_SECRET_KEY": secrets["secret_key"],
        "SLAKE_FILES_DIR": str(folder.files),
    }
