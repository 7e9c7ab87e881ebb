"""Alerts that come and go, fall and rise, or are set aside: told again only where it is news."""

from datetime import timedelta

import pytest

from fleet.alerts.actions import set_alert_aside, sweep, take_alert
from fleet.alerts.models import Alert, Notice, Telling
from fleet.alerts.notices import put_together
from people.yard import yard_day
from tests.alerts.told import DAY, MINUTE, MORNING, NIGHT, condition, told_at

pytestmark = pytest.mark.django_db


def test_nobody_is_told_twice_whatever_the_order_of_sweeps(watched, crew):
    """Cleared and back within a day it is the same alert; only a higher rank is news."""
    watched["test.tag"] = [condition()]
    assert told_at(MORNING, 15) == [(0, "Bruna")]
    watched["test.tag"] = []
    sweep(at=MORNING + 30 * MINUTE)
    watched["test.tag"] = [condition()]

    assert told_at(MORNING + 60 * MINUTE, 120) == []
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING + 240 * MINUTE, 0) == [(0, "Bruna")]


def test_a_stop_that_was_gone_for_a_moment_still_goes_up_the_line(watched, crew):
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING, 0) == [(0, "Bruna")]
    watched["test.tag"] = []
    # The second step falls due while it is gone, and is dropped.
    assert told_at(MORNING + 14 * MINUTE, 15) == []
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(MORNING + 60 * MINUTE, 60) == [(15, "Carl"), (45, "Noor")]


def test_one_that_came_back_before_anybody_heard_of_it_is_told(watched, crew):
    watched["test.tag"] = [condition(rank="soon")]
    sweep(at=MORNING)
    watched["test.tag"] = []
    assert told_at(MORNING + 22 * timedelta(hours=1), 90) == []
    assert Telling.objects.get().outcome == "cleared"
    watched["test.tag"] = [condition(rank="soon")]

    # 7.15 am to 6.30 am.
    assert told_at(MORNING + 23 * timedelta(hours=1) + 45 * MINUTE, 24 * 60) == [(23 * 60 + 15, "Bruna")]


@pytest.mark.parametrize(("days_lower", "again"), [(0.5, []), (3, [(0, "Bruna")])])
def test_one_that_falls_and_rises_is_told_again_after_a_day(watched, crew, days_lower, again):
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING, 0) == [(0, "Bruna")]
    take_alert(alert=Alert.objects.get(), by=crew["bruna"], at=MORNING + MINUTE)
    watched["test.tag"] = [condition(rank="soon")]
    fell = MORNING + 10 * DAY
    sweep(at=fell)
    put_together(at=fell + timedelta(hours=1))
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(fell + days_lower * DAY, 0) == again


def test_a_set_aside_alert_is_not_told_until_its_day(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    on = yard_day(MORNING)
    set_alert_aside(
        alert=Alert.objects.get(), until=on + 3 * DAY, because="Part on order", by=crew["bruna"], at=MORNING
    )

    # Friday 6 am is 2 days 22 h 30 min on.
    assert told_at(MORNING, 78 * 60) == [(2 * 24 * 60 + 22 * 60 + 30, "Bruna")]
    assert Notice.objects.get().why == "it was set aside until today."
    assert Alert.objects.asking(on=on + 3 * DAY).exists()
    assert not Alert.objects.asking(on=on + 2 * DAY).exists()


def test_a_set_aside_alert_that_becomes_a_stop_asks_at_once(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    set_alert_aside(
        alert=Alert.objects.get(), until=yard_day(MORNING) + 9 * DAY, because="Part on order", by=crew["bruna"], at=MORNING
    )  # fmt: skip
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(NIGHT + DAY, 0) == [(0, "Bruna")]
    assert Alert.objects.get().held_until is None
    take_alert(alert=Alert.objects.get(), by=crew["bruna"], at=NIGHT + DAY)
    # Nothing of having been set aside is left to tell on its day.
    assert told_at(MORNING + 9 * DAY, 0) == []


def test_one_that_asks_again_goes_up_the_line_like_any_other(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    until = yard_day(MORNING) + 2 * DAY
    set_alert_aside(
        alert=Alert.objects.get(), until=until, because="Part on order", by=crew["bruna"], at=MORNING
    )

    # Thursday 6 am, and Friday 6 am.
    back = 46 * 60 + 30
    assert told_at(MORNING, 5 * 24 * 60) == [(back, "Bruna"), (back + 24 * 60, "Noor")]
