"""The rules a test says, and people who can all be reached by email."""

import pytest

from tests.alerts.told import watch
from tests.factories.people import StaffFactory


@pytest.fixture
def watched(monkeypatch):
    return watch(monkeypatch)


@pytest.fixture
def crew(db):
    made = {}
    for name, role in (
        ("Bruna Kitto", "workshop_manager"),
        ("Carl Oakes", "workshop_manager"),
        ("Dot Farrugia", "hire_desk"),
        ("Noor Halloran", "fleet_manager"),
        ("Teo Marsden", "fitter"),
    ):
        made[name.split()[0].lower()] = StaffFactory(
            full_name=name, role=role, email=f"{name[:3]}@yard.example"
        )
    return made
