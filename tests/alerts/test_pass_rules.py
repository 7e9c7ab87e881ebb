"""Passes by phone that wait for their giver's word, and carts out on one that was never given: who is told, once, and what
clears it."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions.passes import close_pass
from fleet.actions.spoken_passes import confirm_pass, disown_pass
from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.watch_passes import disowned_and_out, unconfirmed
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, line_of
from tests.factories.standing import SpokenPassFactory
from tests.fleet.passing import DAY, HOUR, enter, give, late_defect

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


@pytest.fixture
def manager():
    return StaffFactory(role="workshop_manager", full_name="Bruna Kitto")


def entered(manager, *, is_out=False):
    """A pass entered at NOW, of a cart that is out or in the yard."""
    cart = CartFactory()
    if is_out:
        line_of(cart, starts_at=NOW - DAY, out_at=NOW - DAY)
    return enter(late_defect(NOW, cart=cart), manager, StaffFactory(full_name="Wes Tamm"), NOW)


def test_it_waits_for_its_giver_and_then_goes_up_the_line(manager):
    given = entered(manager)
    ends = given.confirm_by_at
    for at, rank, role in (
        (NOW, "soon", Role.WORKSHOP_MANAGER),
        (ends - SECOND, "soon", Role.WORKSHOP_MANAGER),
        (ends, "today", Role.FLEET_MANAGER),
        (ends + 9 * DAY, "today", Role.FLEET_MANAGER),
    ):
        [one] = unconfirmed(at)
        assert (one.rank, one.for_role, one.due_at, one.subject_id) == (rank, role, ends, given.pk)
        assert "Bruna Kitto" in one.what
        assert "Wes Tamm entered it" in one.how_we_know


def test_one_alert_grows_and_is_not_raised_twice(manager):
    given = entered(manager)
    for at in (NOW, NOW + HOUR, given.confirm_by_at, given.confirm_by_at + HOUR):
        sweep(at=at)
    [alert] = Alert.objects.filter(rule="fleet.pass_unconfirmed")
    assert (alert.rank, alert.raised_at) == ("today", NOW)
    confirm_pass(given=given, by=manager, at=given.confirm_by_at + 2 * HOUR)
    sweep(at=given.confirm_by_at + 2 * HOUR)
    assert not Alert.objects.open().filter(rule="fleet.pass_unconfirmed").exists()


@pytest.mark.parametrize("act", [confirm_pass, disown_pass, close_pass])
def test_an_answer_or_a_manager_who_closes_it_clears_it(manager, act):
    act(given=entered(manager), by=manager, at=NOW)
    assert list(unconfirmed(NOW + DAY)) == []


def test_a_pass_that_was_signed_waits_for_nobody(manager):
    give(late_defect(NOW), manager, NOW)
    assert list(unconfirmed(NOW + DAY)) == []


@pytest.mark.parametrize("is_out", [True, False])
def test_a_cart_that_left_on_a_pass_nobody_gave_is_told(manager, is_out):
    given = entered(manager, is_out=is_out)
    assert list(disowned_and_out(NOW)) == []
    disown_pass(given=given, by=manager, at=NOW + HOUR)

    told = list(disowned_and_out(NOW + HOUR))

    assert [(one.rank, one.for_role, one.subject_id) for one in told] == (
        [("today", Role.FLEET_MANAGER, given.pk)] if is_out else []
    )
    if is_out:
        assert "Bruna Kitto never gave" in told[0].what


def test_it_clears_once_it_is_passed_by_a_sign_in_or_put_right(manager):
    for clear in ("pass", "repair"):
        given = disown_pass(given=entered(manager, is_out=True), by=manager, at=NOW)
        defect = given.cart.defects.get()
        assert len(list(disowned_and_out(NOW + HOUR))) == 1
        if clear == "pass":
            give(defect, manager, NOW + HOUR)
        else:
            given.cart.defects.update(due_on=(NOW + 9 * DAY).date())
        assert list(disowned_and_out(NOW + HOUR)) == []


def test_disowned_twice_it_is_told_once(manager):
    given = disown_pass(given=entered(manager, is_out=True), by=manager, at=NOW)
    again = enter(given.cart.defects.get(), manager, StaffFactory(), NOW + HOUR)
    disown_pass(given=again, by=manager, at=NOW + HOUR)
    assert [one.subject_id for one in disowned_and_out(NOW + 2 * HOUR)] == [again.pk]


def test_queries_do_not_grow(manager):
    def more(count):
        for _ in range(count):
            given = entered(manager, is_out=True)
            disown_pass(given=given, by=manager, at=NOW)
            SpokenPassFactory()

    def queries():
        with CaptureQueriesContext(connection) as seen:
            told = [*unconfirmed(NOW + HOUR), *disowned_and_out(NOW + HOUR)]
        return len(told), len(seen)

    more(2)
    few = queries()
    more(8)
    assert queries() == (20, few[1])
    assert few[0] == 4
