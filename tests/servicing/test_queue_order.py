"""The order of the queue, worked by hand: grade, then time in hand, then the date."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.defects import Defect
from fleet.needs import Need
from fleet.readiness import Window
from servicing.waiting import Key, in_order, left_until_wanted, place, read_queue
from tests.factories.fleet import CartFactory
from tests.factories.servicing import NOW, defect_of, line_of

HOUR = timedelta(hours=1)


def key(grade="do_not_use", *, told=2 * HOUR, due_on=None):
    return Key(uuid.uuid4(), uuid.uuid4(), grade, "reported", due_on, NOW - told, None)


def need(*, starts=5 * HOUR, is_out=False):
    window = Window(start=NOW + starts, end=NOW + starts + timedelta(days=7))
    return Need(window, "Marran Civil, Northern haul road", "hire_line", uuid.uuid4(), is_out)


def test_a_cart_is_wanted_when_its_hire_leaves():
    assert left_until_wanted(key(), need(starts=5 * HOUR), at=NOW) == 5 * HOUR


def test_a_hire_that_should_have_left_is_late_by_as_much():
    assert left_until_wanted(key(), need(starts=-3 * HOUR), at=NOW) == -3 * HOUR


def test_nobody_waits_for_a_cart_without_a_hire():
    assert left_until_wanted(key(), None, at=NOW) is None


def test_a_cart_stopped_on_hire_is_missed_since_it_was_told_not_since_it_left():
    assert left_until_wanted(key(told=2 * HOUR), need(starts=-50 * HOUR, is_out=True), at=NOW) == -2 * HOUR


@pytest.mark.parametrize("grade", ["by_date", "watch"])
def test_a_cart_that_may_work_on_waits_for_nothing_and_says_when_it_is_back(grade):
    found = place(key(grade), need(starts=-50 * HOUR, is_out=True), at=NOW)

    assert found.left is None
    # Left 50 h ago for a week: back 118 h from 7.30 am on Tuesday 1 December, which is Sunday 5.30 am.
    assert found.out_words == "At work, expected back Sunday 5.30 am"


def test_grade_comes_before_time_in_hand():
    watch, stop = place(key("watch"), need(starts=-HOUR), at=NOW), place(key(), None, at=NOW)

    assert in_order([watch, stop]) == [stop, watch]


def test_least_time_in_hand_first_and_carts_nobody_waits_for_last():
    late, soon, later, never = (
        place(key(), wanted, at=NOW)
        for wanted in (need(starts=-HOUR), need(starts=HOUR), need(starts=9 * HOUR), None)
    )

    assert in_order([never, later, soon, late]) == [late, soon, later, never]


def test_without_a_hire_one_not_dated_yet_is_first_then_the_nearest_date_then_the_oldest():
    undated = place(key("by_date"), None, at=NOW)
    near = place(key("by_date", due_on=date(2026, 12, 2)), None, at=NOW)
    far_old = place(key("by_date", due_on=date(2026, 12, 9), told=30 * HOUR), None, at=NOW)
    far_new = place(key("by_date", due_on=date(2026, 12, 9)), None, at=NOW)

    assert in_order([far_new, far_old, near, undated]) == [undated, near, far_old, far_new]


@pytest.mark.django_db
def test_the_yard_s_hires_order_the_queue_in_three_queries():
    late, soon, free, out = (CartFactory() for _ in range(4))
    line_of(soon, starts_at=NOW + 3 * HOUR)
    line_of(late, starts_at=NOW - HOUR)
    line_of(out, starts_at=NOW - timedelta(days=3), out_at=NOW - timedelta(days=3))
    expected = [defect_of(cart).pk for cart in (out, late, soon, free)]

    # Keys of the open defects, their carts, and what those carts are wanted for.
    with CaptureQueriesContext(connection) as queries:
        places = read_queue(Defect.objects.open(), at=NOW)

    assert [one.key.defect_id for one in places] == expected
    assert len(queries) == 3


@pytest.mark.django_db
def test_a_closed_defect_is_in_no_queue():
    defect_of(CartFactory(), state="verified")

    assert read_queue(Defect.objects.open(), at=NOW) == []
