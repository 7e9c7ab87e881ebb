"""A cart to walk, the moment it is walked, and the tablet it is walked with."""

import pytest
from django.utils import timezone

from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, ExtinguisherFactory


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def cart(db):
    """A cart with its tyres and an extinguisher, and sheets to walk it by."""
    made = CartFactory(fleet_number="RG07", tyres=True)
    ExtinguisherFactory(cart=made)
    walk.edition()
    return made


@pytest.fixture
def tablet(client, people):
    """What a yard hand's tablet sends through."""
    client.force_login(people[Role.YARD_HAND])
    return client
