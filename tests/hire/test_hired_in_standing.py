"""A cart hired in and its right to go: the owner's period, call and insurance; and the alert that the owner's clock runs."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.readiness import Window, readiness, readiness_of
from hire.actions import hired_in as acts
from hire.models.owners import HireIn
from hire.owner_watch import owner_clocks
from hire.promises import window_of
from people.roles import Role
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.owners import HireInFactory, OwnerPaperFactory

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")


class TestRightToGo:
    def codes(self, line, at):
        answer = readiness(line.cart, window=window_of(line), at=at)
        return {one.code for one in answer.cautions if one.code.startswith("hire.")}, {
            one.code for one in answer.blockers if one.code.startswith("hire.")
        }

    @pytest.mark.parametrize(("beyond", "warned"), [(0, set()), (1, {"hire.owner_period_ends"})])
    def test_a_promise_past_the_owners_period_is_warned_of(self, at, beyond, warned):
        line = LineFactory()
        hire_in = HireInFactory(cart=line.cart, ends_at=line.promised.upper - beyond * HOUR)
        OwnerPaperFactory(owner=hire_in.owner)
        assert self.codes(line, at) == (warned, set())

    def test_nor_is_it_the_yards_to_send_before_it_comes(self, at):
        line = LineFactory()
        hire_in = HireInFactory(cart=line.cart, starts_at=line.promised.lower + HOUR)
        OwnerPaperFactory(owner=hire_in.owner)
        assert self.codes(line, at) == (set(), {"hire.owner_period_starts"})

    @pytest.mark.parametrize("over_by", [0, 3])
    def test_nor_once_the_owners_period_is_over(self, at, over_by):
        line = LineFactory()
        ends = line.promised.lower - over_by * HOUR
        hire_in = HireInFactory(cart=line.cart, starts_at=ends - 9 * DAY, ends_at=ends)
        OwnerPaperFactory(owner=hire_in.owner)
        assert self.codes(line, at) == (set(), {"hire.owner_period_ends"})

    def test_nor_once_it_is_called_off(self, at, desk):
        line = LineFactory()
        hire_in = HireInFactory(cart=line.cart, starts_at=line.promised.lower - DAY)
        OwnerPaperFactory(owner=hire_in.owner)
        HireIn.objects.update(called_at=at, stops_at=at, called_by=desk, called_to_words="Bel")
        assert self.codes(line, at) == (set(), {"hire.owner_period_ends"})

    def test_a_cart_that_is_out_is_not_stopped_for_its_owner(self, at):
        line = LineFactory()
        hire_in = HireInFactory(cart=line.cart, starts_at=at - 9 * DAY, ends_at=at - DAY)
        OwnerPaperFactory(owner=hire_in.owner)
        answer = readiness(line.cart, window=replace(window_of(line), asks_gate=False), at=at)
        assert not [one for one in answer.blockers if one.code.startswith("hire.")]
        assert "hire.owner_period_ends" in {one.code for one in answer.cautions}

    @pytest.mark.parametrize(
        ("days", "found"),
        [
            (-1, (set(), {"hire.cart_insurance"})),
            (0, ({"hire.owner_insurance"}, set())),
            (6, ({"hire.owner_insurance"}, set())),
            (7, (set(), set())),
            (None, (set(), set())),
        ],
    )
    def test_the_owners_insurance(self, at, days, found):
        line = LineFactory()
        owner = HireInFactory(cart=line.cart, ends_at=line.promised.upper).owner
        good_until = line.promised.lower.astimezone(ADELAIDE).date() + timedelta(days=days or 0)
        OwnerPaperFactory(owner=owner, recorded_at=at - DAY, expires_on=date(2020, 1, 1))
        OwnerPaperFactory(owner=owner, kind="agreement", recorded_at=at, expires_on=date(2020, 1, 1))
        OwnerPaperFactory(owner=owner, expires_on=None if days is None else good_until)
        assert self.codes(line, at) == found

    def test_none_on_record_is_warned_of(self, at):
        line = LineFactory()
        HireInFactory(cart=line.cart, ends_at=line.promised.upper)
        assert self.codes(line, at) == ({"hire.owner_insurance"}, set())

    def test_a_cart_back_with_its_owner_goes_nowhere(self, at, desk):
        line = LineFactory()
        HireInFactory(
            cart=line.cart, called_at=at - DAY, stops_at=at - DAY, called_to_words="Bel", called_by=desk, returned_at=at - HOUR
        )  # fmt: skip
        assert self.codes(line, at) == (set(), {"hire.back_with_owner"})
        OwnerPaperFactory(
            owner=HireInFactory(cart=line.cart, starts_at=at, ends_at=line.promised.upper).owner
        )
        assert self.codes(line, at) == (set(), set())

    def test_it_costs_the_same_for_three_carts_and_thirty(self, at):
        def cost(carts):
            with CaptureQueriesContext(connection) as queries:
                readiness_of(carts, window=Window(at, at + 40 * DAY), at=at)
            return len(queries)

        carts = [OwnerPaperFactory(owner=HireInFactory().owner).owner.hire_ins.get().cart for _ in range(30)]
        assert cost(carts[:3]) == cost(carts)


class TestTheAlert:
    def test_when_our_hire_has_ended_and_the_clock_runs(self, at, desk):
        line = LineFactory(cart__fleet_number="HX-4", starts_at=at - 9 * DAY, out_at=at - 9 * DAY)
        hire_in = HireInFactory(cart=line.cart, owner__name="Tarcoola Plant")
        assert list(owner_clocks(at)) == []
        OffHireFactory(line=line, called_at=at - DAY)
        [found] = owner_clocks(at)
        assert (found.subject_id, found.for_role, found.rank) == (hire_in.pk, Role.HIRE_DESK, "today")
        assert found.what.startswith("Tarcoola Plant’s clock for HX-4 still runs: its hire from us ended")
        acts.call_off_owner(hire_in=hire_in, called_at=at, called_to_words="Bel", by=desk, at=at)
        assert list(owner_clocks(at)) == []

    @pytest.mark.parametrize(("hours", "quiet"), [(12, True), (72, False)])
    def test_not_while_it_leaves_again_soon(self, at, hours, quiet):
        line = LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY)
        HireInFactory(cart=line.cart)
        LineFactory(cart=line.cart, starts_at=at + hours * HOUR)
        assert (list(owner_clocks(at)) == []) is quiet

    def test_not_before_its_first_hire_nor_for_a_hire_before_it_came(self, at):
        LineFactory(cart=HireInFactory().cart, starts_at=at + 9 * DAY)
        old = LineFactory(starts_at=at - 40 * DAY, out_at=at - 40 * DAY, came_back_at=at - 20 * DAY)
        HireInFactory(cart=old.cart)
        assert list(owner_clocks(at)) == []

    def test_when_the_owner_expected_it_back(self, at):
        line = LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, ends_at=at + DAY)
        HireInFactory(cart=line.cart, ends_at=at - HOUR)
        [found] = owner_clocks(at)
        assert "agreed to it until" in found.what
        sweep(at=at)
        assert Alert.objects.get(rule="hire.owner_clock").act == found.act

    def test_three_queries_for_three_and_thirty(self, at, django_assert_num_queries):
        for _ in range(30):
            line = LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY)
            HireInFactory(cart=line.cart)
        with django_assert_num_queries(3):
            assert len(list(owner_clocks(at))) == 30
