"""Setting an alert aside and asking again: its days, its refusals, its journal, and what the database itself refuses."""

import threading
import time
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from fleet.alerts.actions import (
    AlertGone,
    ReasonMissing,
    StopNotSetAside,
    TooLongAside,
    bring_alert_back,
    set_alert_aside,
    sweep,
)
from fleet.alerts.models import Alert
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from people.yard import yard_day
from tests.alerts.told import condition, watch
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db
TODAY, DAY = yard_day(NOW), timedelta(days=1)


def alert(**changes):
    facts = {name: value for name, value in vars(condition()).items() if name != "only_keeps"}
    return Alert.objects.create(rule="test.tag", raised_at=NOW, **facts | changes)


def aside(one, people, days=3, because=" Part on order ", role=Role.WORKSHOP_MANAGER):
    return set_alert_aside(alert=one, until=TODAY + days * DAY, because=because, by=people[role], at=NOW)


@pytest.mark.parametrize("days", [1, 14])
def test_it_is_out_of_sight_until_its_day_and_journalled(people, days):
    done = aside(alert(), people, days)

    assert (done.held_on, done.held_until, done.held_because) == (TODAY, TODAY + days * DAY, "Part on order")
    assert not Alert.objects.asking(on=TODAY + (days - 1) * DAY).exists()
    assert Alert.objects.asking(on=TODAY + days * DAY).exists()
    assert Alert.objects.set_aside(on=TODAY).get() == done
    entry = Entry.objects.get()
    assert entry.event == "fleet.alert.set_aside"
    assert '"because":"Part on order"' in entry.text


@pytest.mark.parametrize(
    ("changes", "asked", "refusal"),
    [
        ({}, {"days": 0}, TooLongAside),
        ({}, {"days": 15}, TooLongAside),
        ({}, {"days": -1}, TooLongAside),
        ({}, {"because": "  "}, ReasonMissing),
        ({"rank": "stop"}, {}, StopNotSetAside),
        ({"cleared_at": NOW}, {}, AlertGone),
        ({}, {"role": Role.HIRE_DESK}, NotAllowed),
    ],
)
def test_each_refusal_changes_nothing(people, changes, asked, refusal):
    one = alert(**changes)
    with pytest.raises(refusal):
        aside(one, people, **asked)
    one.refresh_from_db()
    assert one.held_until is None
    assert not Entry.objects.exists()


def test_it_asks_again_when_told_to_and_twice_does_nothing_more(people):
    one = aside(alert(), people)
    for _ in range(2):
        back = bring_alert_back(alert=one, by=people[Role.FLEET_MANAGER], at=NOW)
    assert back.held_until is None
    assert [entry.event for entry in Entry.objects.order_by("position")] == [
        "fleet.alert.set_aside",
        "fleet.alert.brought_back",
    ]


def test_set_aside_again_counts_from_the_new_day(people):
    one = aside(alert(), people, 14)
    again = set_alert_aside(
        alert=one, until=TODAY + 20 * DAY, because="Still on order", by=people[Role.WORKSHOP_MANAGER], at=NOW + 10 * DAY
    )  # fmt: skip
    assert (again.held_until, again.times_held) == (TODAY + 20 * DAY, 2)


WHOLE = {"held_on": TODAY, "held_until": TODAY + DAY, "held_because": "x", "held_at": NOW}
ROUND_THE_ACTIONS = {
    "alerts_alert_stop_never_aside": WHOLE | {"rank": "stop"},
    "alerts_alert_aside_two_weeks_at_most": WHOLE | {"held_until": TODAY + 15 * DAY},
    "alerts_alert_aside_by_somebody": WHOLE | {"held_because": " "},
}


@pytest.mark.parametrize("constraint", ROUND_THE_ACTIONS)
def test_the_database_refuses_it_by_itself(people, constraint):
    one = alert()
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Alert.objects.filter(pk=one.pk).update(
            **ROUND_THE_ACTIONS[constraint], held_by=people[Role.WORKSHOP_MANAGER]
        )


def test_the_database_wants_a_name_beside_it(people):
    one = alert()
    with pytest.raises(IntegrityError, match="alerts_alert_aside_by_somebody"), transaction.atomic():
        Alert.objects.filter(pk=one.pk).update(**WHOLE)
    with pytest.raises(IntegrityError, match="alerts_alert_aside_two_weeks"), transaction.atomic():
        Alert.objects.filter(pk=one.pk).update(
            **WHOLE | {"held_until": TODAY}, held_by=people[Role.WORKSHOP_MANAGER]
        )


@pytest.mark.django_db(transaction=True)
def test_set_aside_at_the_moment_it_becomes_a_stop_it_asks(monkeypatch):
    """The sweep has looked already and is about to write: whoever sets it aside meanwhile comes first or is refused."""
    by = StaffFactory(role="workshop_manager")
    one, found = alert(), watch(monkeypatch)
    found["test.tag"] = [condition(rank="stop")]
    in_between, done = threading.Event(), []

    def aside_meanwhile():
        try:
            with transaction.atomic():
                set_alert_aside(alert=one, until=TODAY + DAY, because="x", by=by, at=NOW)
                in_between.set()
                # The sweep comes to its writing and waits for this row.
                time.sleep(0.5)
            done.append(True)
        finally:
            connection.close()

    thread = threading.Thread(target=aside_meanwhile)
    thread.start()
    assert in_between.wait(timeout=30)
    run = sweep(at=NOW)
    thread.join(timeout=30)

    assert (done, run.failed_rules) == ([True], "")
    one.refresh_from_db()
    assert (one.rank, one.held_until) == ("stop", None)
