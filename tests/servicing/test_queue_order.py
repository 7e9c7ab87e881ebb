"""The order of the queue, worked by hand: grade, then time in hand, then the date. And the database's order is that rule's."""

import random
import uuid
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.defects import Defect
from servicing.models.jobs import RepairTime
from servicing.queue import REPAIR_PRIOR, Item, missed_from, order, slack
from servicing.waiting import queue_of
from tests.factories.fleet import CartFactory
from tests.factories.servicing import NOW, defect_of, line_of

HOUR = timedelta(hours=1)
WORST = "do_not_use"


def item(grade=WORST, *, hand=None, told=2 * HOUR, due_on=None):
    return Item(uuid.uuid4(), grade, hand, due_on, NOW - told)


def missed_in(grade=WORST, *, starts=5 * HOUR, told=2 * HOUR, is_out=False):
    found = missed_from(grade=grade, told_at=NOW - told, wanted_at=NOW + starts, is_out=is_out)
    return None if found is None else found - NOW


def test_a_cart_is_missed_when_its_hire_leaves():
    assert missed_in(starts=5 * HOUR) == 5 * HOUR


def test_a_hire_that_should_have_left_is_late_by_as_much():
    assert missed_in(starts=-3 * HOUR) == -3 * HOUR


def test_a_cart_stopped_on_hire_is_missed_since_it_was_told_not_since_it_left():
    assert missed_in(starts=-50 * HOUR, told=2 * HOUR, is_out=True) == -2 * HOUR


@pytest.mark.parametrize("grade", ["by_date", "watch"])
def test_a_cart_that_may_work_on_waits_for_nothing(grade):
    assert missed_in(grade, starts=-50 * HOUR, is_out=True) is None


def test_time_in_hand_is_what_the_repair_leaves():
    assert slack(next_need_at=NOW + 5 * HOUR, expected_repair=2 * HOUR, at=NOW) == 3 * HOUR
    assert slack(next_need_at=NOW + HOUR, expected_repair=2 * HOUR, at=NOW) == -HOUR
    assert slack(next_need_at=None, expected_repair=2 * HOUR, at=NOW) is None


def test_grade_comes_before_time_in_hand():
    watch, stop = item("watch", hand=-HOUR), item(WORST)

    assert order([watch, stop]) == [stop, watch]


def test_least_time_in_hand_first_and_carts_nobody_waits_for_last():
    late, soon, later, never = (item(hand=hand) for hand in (-HOUR, HOUR, 9 * HOUR, None))

    assert order([never, later, soon, late]) == [late, soon, later, never]


def test_without_a_hire_one_not_dated_yet_is_first_then_the_nearest_date_then_the_oldest():
    undated = item("by_date")
    near = item("by_date", due_on=date(2026, 12, 2))
    far_old = item("by_date", due_on=date(2026, 12, 9), told=30 * HOUR)
    far_new = item("by_date", due_on=date(2026, 12, 9))

    assert order([far_new, far_old, near, undated]) == [undated, near, far_old, far_new]


@pytest.mark.django_db
def test_the_database_orders_the_yard_s_defects_as_the_rule_does():
    dice = random.Random(26)
    hires = {}
    own = {("watch", "hose-weeps"): 240, ("do_not_use", "hose-weeps"): 15, ("by_date", "belt-frayed"): 600}
    for (grade, key), minutes in own.items():
        RepairTime.objects.create(
            check_key=key, grade=grade, expected_minutes=minutes, repairs=3, made_at=NOW
        )
    for number in range(12):
        cart, starts, is_out = CartFactory(), NOW + dice.randint(-40, 40) * HOUR, number % 3 == 1
        if is_out:
            starts = NOW - dice.randint(1, 40) * HOUR
        hires[cart] = None if number % 3 == 2 else (starts, is_out)
        if number % 3 != 2:
            line_of(cart, starts_at=starts, out_at=starts if is_out else None)
    items = []
    for cart, hire in hires.items():
        for _ in range(6):
            grade, told_at = dice.choice(list(REPAIR_PRIOR)), NOW - dice.randint(0, 60) * HOUR
            due_on = (
                date(2026, 12, dice.randint(1, 5)) if grade == "by_date" and dice.random() < 0.7 else None
            )
            key = dice.choice(["hose-weeps", "belt-frayed", ""])
            defect = defect_of(cart, grade=grade, told_at=told_at, due_on=due_on, check_key=key)
            missed = (
                missed_from(grade=grade, told_at=told_at, wanted_at=hire[0], is_out=hire[1]) if hire else None
            )
            repair = timedelta(minutes=own[grade, key]) if (grade, key) in own else REPAIR_PRIOR[grade]
            hand = slack(next_need_at=missed, expected_repair=repair, at=NOW)
            items.append(Item(defect.pk, grade, hand, due_on, told_at))

    shown = [pk for pk, _ in queue_of(Defect.objects.open(), at=NOW).places]

    assert shown == [one.id for one in order(items)]


@pytest.mark.django_db
def test_the_yard_s_hires_order_the_queue_in_as_many_queries_however_many():
    late, soon, free, out = (CartFactory() for _ in range(4))
    line_of(soon, starts_at=NOW + 3 * HOUR)
    line_of(late, starts_at=NOW - HOUR)
    line_of(out, starts_at=NOW - timedelta(days=3), out_at=NOW - timedelta(days=3))
    expected = [defect_of(cart).pk for cart in (out, late, soon, free)]

    # What repairs take here, what the carts with open defects are wanted for, the order, and the defects; and, since some carts are
    # out, whether those owe a pre-start.
    with CaptureQueriesContext(connection) as queries:
        queue = queue_of(Defect.objects.open(), at=NOW)
        shown = queue.load(queue.places[:50])

    assert [one.pk for one, _ in shown] == expected
    assert [left for _, left in shown[1:]] == [-HOUR, 3 * HOUR, None]
    assert len(queries) == 15


@pytest.mark.django_db
def test_a_cart_at_work_with_a_lesser_defect_says_when_it_is_back():
    cart = CartFactory()
    # Left 50 h ago for a week: back 118 h from 7.30 am on Tuesday 1 December, which is Sunday 5.30 am.
    line_of(cart, starts_at=NOW - 50 * HOUR, out_at=NOW - 50 * HOUR)
    defect_of(cart, grade="watch")
    defect_of(cart, grade=WORST)

    queue = queue_of(Defect.objects.open(), at=NOW)

    assert [queue.out_words(one) for one, _ in queue.load(queue.places)] == [
        "",
        "At work, expected back Sunday 5.30 am",
    ]


@pytest.mark.django_db
def test_a_closed_defect_is_in_no_queue():
    defect_of(CartFactory(), state="verified")

    assert not queue_of(Defect.objects.open(), at=NOW).places


@pytest.mark.django_db
def test_what_is_put_off_is_out_of_the_queue_until_its_day_and_then_back_by_itself():
    away = defect_of(CartFactory(), grade="watch", state="put_off", put_off_until=date(2026, 12, 5))

    def shown(on):
        return [pk for pk, _ in queue_of(Defect.objects.in_queue(on=on), at=NOW).places]

    assert shown(date(2026, 12, 4)) == []
    assert shown(date(2026, 12, 5)) == [away.pk]
