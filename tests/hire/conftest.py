"""Who hires carts out, a hire that may leave, and the key its papers are sealed with."""

import pytest
from django.utils import timezone

from inspections.certificates.keys import make_seal_key
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.hire import ready_line


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


@pytest.fixture
def desk(people):
    return people[Role.HIRE_DESK]


@pytest.fixture
def line(hand, at):
    """Walked, with its certificate: it may leave at `at`."""
    return ready_line(hand=hand, at=at, cart=CartFactory(fleet_number="RG07", tyres=True))


@pytest.fixture
def seal_key(settings, tmp_path):
    """The fingerprint of the key that seals papers from now on."""
    settings.SEAL_KEY_FILE, settings.SEAL_CERT_FILE = tmp_path / "seal.key", tmp_path / "seal.crt"
    return make_seal_key(
        key_file=settings.SEAL_KEY_FILE,
        cert_file=settings.SEAL_CERT_FILE,
        name="Test yard",
        at=timezone.now(),
    )
