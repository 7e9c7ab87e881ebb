"""Defects watched by their dates: boundary minus one, on and plus one, what raises the rank, and what clears it."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from people.roles import Role
from people.yard import yard_day
from servicing import watch_defects
from servicing.actions import repairs
from tests.factories.fleet import CartFactory, DefectFactory, LimitFactory
from tests.factories.servicing import NOW, defect_of, line_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
TODAY = yard_day(NOW)


def ranks(find, at=NOW):
    return [one.rank for one in find(at)]


def dated(cart=None, *, due_on=TODAY - DAY, **kwargs):
    return defect_of(cart or CartFactory(), grade="by_date", state="assessed", due_on=due_on, **kwargs)


@pytest.mark.parametrize(("days", "rank"), [(1, []), (0, []), (-1, ["today"]), (-300, ["today"])])
def test_a_repair_by_a_date_is_told_once_its_day_has_passed(days, rank):
    dated(due_on=TODAY + days * DAY)

    assert ranks(watch_defects.past_date) == rank


@pytest.mark.parametrize(
    ("hours", "out", "rank"),
    [
        pytest.param(47, False, "stop", id="leaves within 48 h"),
        pytest.param(48, False, "stop", id="leaves in 48 h"),
        pytest.param(49, False, "today", id="leaves later"),
        pytest.param(-5, False, "stop", id="should have left"),
        pytest.param(-5, True, "today", id="out already"),
    ],
)
def test_one_that_holds_a_cart_promised_soon_stops(hours, out, rank):
    defect, starts_at = dated(), NOW + timedelta(hours=hours)
    line_of(defect.cart, starts_at=starts_at, out_at=starts_at if out else None)

    [found] = watch_defects.past_date(NOW)

    assert found.rank == rank
    assert found.for_role == Role.WORKSHOP_MANAGER
    assert ("It is promised for" in found.what) == (rank == "stop")


def test_isolated_gear_holds_no_cart_and_its_date_is_still_told():
    limit = LimitFactory(
        defect=DefectFactory(grade="by_date", state="assessed", due_on=TODAY - DAY, gear="cannon")
    )
    line_of(limit.defect.cart, starts_at=NOW + timedelta(hours=3))

    assert ranks(watch_defects.past_date) == ["today"]


@pytest.mark.parametrize("kwargs", [{"state": "verified"}, {"grade": "do_not_use", "due_on": None}])
def test_a_closed_one_and_one_without_a_date_are_not_past_it(kwargs):
    defect_of(CartFactory(), **{"grade": "by_date", "due_on": TODAY - DAY} | kwargs)

    assert ranks(watch_defects.past_date) == []


@pytest.mark.parametrize(("days", "told"), [(4, False), (3, True), (0, True), (-2, True)])
def test_what_is_put_off_is_told_three_days_before_its_day_and_until_somebody_looks(days, told):
    defect_of(CartFactory(), grade="watch", state="put_off", put_off_until=TODAY + days * DAY)

    found = list(watch_defects.put_off_ending(NOW))

    assert [one.rank for one in found] == (["soon"] if told else [])
    if told:
        assert ("is back in the queue" in found[0].what) == (days <= 0)


@pytest.mark.parametrize(("days", "told"), [(1, False), (0, True), (-9, True)])
def test_a_watch_is_looked_at_again_on_its_day(days, told):
    defect_of(CartFactory(), grade="watch", state="assessed", look_again_on=TODAY + days * DAY)

    assert ranks(watch_defects.look_again_due) == (["soon"] if told else [])


@pytest.mark.parametrize("state", ["repaired", "verified"])
@pytest.mark.parametrize(
    ("days", "rank"), [(4, []), (3, ["soon"]), (1, ["soon"]), (0, ["today"]), (-1, ["today"])]
)
def test_a_temporary_fix_is_told_three_days_before_its_last_day(state, days, rank):
    defect_of(CartFactory(), grade="watch", state=state, fix_ends_on=TODAY + days * DAY)

    assert ranks(watch_defects.temporary_fix_ending) == rank


def test_telling_it_again_clears_the_temporary_fix():
    defect = defect_of(CartFactory(), grade="watch", state="verified", fix_ends_on=TODAY - DAY)
    repairs.end_temporary_fix(defect=defect, by=None, at=NOW)

    assert ranks(watch_defects.temporary_fix_ending) == []


def test_carts_that_left_the_fleet_are_not_watched():
    dated(CartFactory(retired_on=TODAY - 9 * DAY))

    assert ranks(watch_defects.past_date) == []


RULES = [
    (watch_defects.past_date, {"grade": "by_date", "state": "assessed", "due_on": TODAY - DAY}),
    (watch_defects.put_off_ending, {"grade": "watch", "state": "put_off", "put_off_until": TODAY}),
    (watch_defects.look_again_due, {"grade": "watch", "state": "assessed", "look_again_on": TODAY}),
    (watch_defects.temporary_fix_ending, {"grade": "watch", "state": "verified", "fix_ends_on": TODAY}),
]


@pytest.mark.parametrize(("find", "kwargs"), RULES, ids=lambda one: getattr(one, "__name__", ""))
def test_thirty_cost_as_many_queries_as_three(find, kwargs):
    def cost(count):
        for number in range(count):
            cart = CartFactory()
            line_of(cart, starts_at=NOW + timedelta(hours=number + 1))
            defect_of(cart, **kwargs)
        with CaptureQueriesContext(connection) as queries:
            found = list(find(NOW))
        return len(found), len(queries)

    few, many = cost(3), cost(27)

    assert (few[0], many[0]) == (3, 30)
    assert few[1] == many[1]
