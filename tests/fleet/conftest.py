"""Who works on carts: a fitter, and the fleet manager before a page."""

import pytest

from people.roles import Role


@pytest.fixture
def fitter(people):
    return people[Role.FITTER]


@pytest.fixture
def browser(people, sign_in):
    return sign_in(people[Role.FLEET_MANAGER])
