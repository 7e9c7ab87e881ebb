"""Repairs that let a cart at work go on "not yet seen by a second person", told before that ends: boundary minus one, on and
plus one of its days, which grades and carts, and what it says."""

from datetime import time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from people.roles import Role
from people.templatetags.screen import day
from people.yard import at_local, yard_day
from servicing.actions import repairs
from servicing.watch_defects import unseen_ending
from tests.factories.fleet import CartFactory, LimitFactory, RepairStepFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, defect_of, line_of

pytestmark = pytest.mark.django_db

DAY, SECOND = timedelta(days=1), timedelta(seconds=1)
TODAY = yard_day(NOW)


def ranks():
    return [one.rank for one in unseen_ending(NOW)]


def unseen(*, ends_in=DAY, is_out=True, has_photo=True, **kwargs):
    """A photographed repair nobody else has seen, on a cart that is at work; ends_in: of its week, from NOW."""
    cart, at = CartFactory(retired_on=kwargs.pop("cart__retired_on", None)), NOW + ends_in - 7 * DAY
    line_of(cart, starts_at=NOW - 9 * DAY, out_at=NOW - 9 * DAY if is_out else None)
    said = {"told_at": NOW - 60 * DAY, "repaired_at": at, "state": "repaired", "second_look_always": False}
    defect = defect_of(cart, **said | kwargs)
    if has_photo:
        RepairStepFactory(defect=defect)
    return defect


def midnight(days):
    """From NOW to the start of a day so many days on."""
    return at_local(TODAY + days * DAY, time.min) - NOW


@pytest.mark.parametrize("grade", [{"grade": "do_not_use"}, {"grade": "by_date", "due_on": TODAY - 40 * DAY}])
@pytest.mark.parametrize(
    ("ends_in", "rank"),
    [
        pytest.param(midnight(3), [], id="ends on the third day"),
        pytest.param(midnight(3) - SECOND, ["soon"], id="ends two days on, at its last second"),
        pytest.param(midnight(2), ["soon"], id="ends two days on, at its first"),
        pytest.param(midnight(2) - SECOND, ["today"], id="ends tomorrow: today is the last whole day"),
        pytest.param(SECOND, ["today"], id="ends now"),
        pytest.param(-30 * DAY, ["today"], id="ended long ago"),
    ],
)
def test_a_repair_let_go_unseen_is_told_before_it_stops_the_cart(ends_in, rank, grade):
    unseen(ends_in=ends_in, **grade)

    assert ranks() == rank


@pytest.mark.parametrize(("days", "rank"), [(2, []), (1, ["soon"]), (0, ["today"]), (-1, ["today"])])
def test_a_temporary_fix_seen_by_nobody_else_is_told_by_its_last_day(days, rank):
    unseen(ends_in=6 * DAY, grade="by_date", due_on=TODAY - DAY, fix_ends_on=TODAY + days * DAY)

    assert ranks() == rank


@pytest.mark.parametrize(
    ("days", "told"),
    [pytest.param(0, True, id="past its date by then"), pytest.param(1, False, id="not yet")],
)
def test_one_that_would_not_stop_its_cart_by_then_is_not_told(days, told):
    unseen(grade="by_date", due_on=TODAY + days * DAY)

    assert ranks() == (["today"] if told else [])


@pytest.mark.parametrize(
    "kwargs",
    [
        pytest.param({"grade": "watch"}, id="watch"),
        pytest.param({"second_look_always": True}, id="always a second person"),
        pytest.param({"has_photo": False}, id="without a photo"),
        pytest.param({"cart__retired_on": TODAY}, id="of a cart that left"),
    ],
)
def test_what_lets_no_cart_go_on_unseen_is_not_told(kwargs):
    unseen(**kwargs)

    assert ranks() == []


def test_isolated_gear_stops_no_cart():
    LimitFactory(defect=unseen(gear="cannon"))

    assert ranks() == []


@pytest.mark.parametrize("settle", [repairs.give_second_look, repairs.send_back])
def test_a_second_look_and_sending_back_clear_it(settle):
    defect = unseen()
    assert ranks() == ["today"]
    settle(defect=defect, version=defect.version, words="Looked.", by=StaffFactory(role="yard_hand"), at=NOW)

    assert ranks() == []


def test_it_is_raised_of_a_cart_at_work_and_stands_when_that_is_back_in_the_yard():
    unseen(is_out=False)

    [kept] = unseen_ending(NOW)
    assert kept.only_keeps
    assert kept.if_not == "It passes no gate until somebody else has looked."


@pytest.mark.parametrize(
    ("ends_in", "until", "if_not"),
    [
        (
            3 * timedelta(hours=1),
            "The cart can work on until Tue 1 Dec, 10.30",
            "Then it is held where it works.",
        ),
        (midnight(1), "The cart can work on until the end of Tue 1 Dec.", "Then it is held"),
        (-SECOND, "The cart could work on until Tue 1 Dec, 7.29", "It is held where it works until somebody"),
    ],
)
def test_it_says_until_when_and_what_then(ends_in, until, if_not):
    defect = unseen(ends_in=ends_in)

    [found] = unseen_ending(NOW)

    assert until in found.what
    assert found.if_not.startswith(if_not)
    assert f"Repaired by {defect.repaired_by.full_name}, {day(defect.repaired_at)}" in found.how_we_know
    assert (found.due_at, found.for_role, found.only_keeps) == (NOW + ends_in, Role.WORKSHOP_MANAGER, False)


def test_thirty_cost_as_many_queries_as_three():
    def cost(count):
        for _ in range(count):
            unseen()
        with CaptureQueriesContext(connection) as queries:
            found = ranks()
        return len(found), len(queries)

    few, many = cost(3), cost(27)

    assert (few[0], many[0]) == (3, 30)
    # Two of its own; the rest say whether the carts that are out owe a pre-start.
    assert few[1] == many[1] == 13
