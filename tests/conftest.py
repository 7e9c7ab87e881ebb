"""Fixtures for every test: a migrated database owned by the owner's role, and people of each role."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test import Client
from hypothesis import HealthCheck, settings

from people.models import Staff
from people.privileges import apply_privileges
from people.roles import Role
from tests.chromium import ARGUMENTS, CHROMIUM
from tests.factories.people import StaffFactory

# No test is timed: a busy machine is no fault of the product.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix):
    """Parallel runs have a database each."""


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """After migrating, the application's role gets its rights, as it does at every start."""
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = 'slake_app'")
        assert cursor.fetchone(), "The cluster has no slake_app role: ./run test makes one."
        apply_privileges()


@pytest.fixture(scope="session")
def chromium():
    """One browser for every journey: the driver runs a loop of its own, and two of them do not share a process."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only journeys pay for loading it

    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture
def at() -> datetime:
    """Tuesday 1 December 2026, 7.30 am in the yard (Adelaide, daylight saving: UTC+10:30)."""
    return datetime(2026, 11, 30, 21, 0, tzinfo=UTC)


@pytest.fixture
def people(db) -> dict[Role, Staff]:
    """One person of each role."""
    return {role: StaffFactory(role=role.value, username=role.value) for role in Role}


@pytest.fixture
def sign_in(client: Client):
    """Give a function that signs a person in on the client and returns it."""

    def inner(person: Staff) -> Client:
        client.force_login(person)
        return client

    return inner
