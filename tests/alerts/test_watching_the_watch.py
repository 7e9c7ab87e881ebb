"""A sweep that has stopped is told by whoever sends notices, and cleared by the next sweep; and the whole task, run once."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.alerts.actions import SWEEP_STOPPED, sweep, watch_the_sweep
from fleet.alerts.models import Alert, Delivery, SweepRun
from fleet.alerts.tasks import send_notices, sweep_alerts
from tests.alerts.told import condition, watch
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db
PERIOD = timedelta(seconds=300)


def swept(at):
    SweepRun.objects.create(started_at=at, finished_at=at)


@pytest.mark.parametrize(
    ("age", "is_told"),
    [(2 * PERIOD, False), (2 * PERIOD + timedelta(seconds=1), True), (timedelta(days=3), True)],
)
def test_after_two_periods_it_is_told_once_to_the_fleet_manager(age, is_told):
    swept(NOW - age)

    assert [watch_the_sweep(at=NOW) for _ in range(2)] == [is_told] * 2

    alerts = list(Alert.objects.open())
    assert [(one.rule, one.rank, one.for_role) for one in alerts] == (
        [(SWEEP_STOPPED, "today", "fleet_manager")] if is_told else []
    )
    assert all(one.tellings.count() == 2 for one in alerts)


def test_a_yard_just_set_up_is_not_called_stopped():
    assert watch_the_sweep(at=NOW) is False


def test_the_next_sweep_clears_it(monkeypatch):
    watch(monkeypatch)
    swept(NOW - timedelta(days=1))
    watch_the_sweep(at=NOW)

    run = sweep(at=NOW + timedelta(minutes=1))

    assert (run.cleared, Alert.objects.open().count()) == (1, 0)


def test_a_run_that_never_finished_does_not_count(monkeypatch):
    swept(NOW - timedelta(days=1))
    SweepRun.objects.create(started_at=NOW, finished_at=None)
    assert watch_the_sweep(at=NOW) is True


def test_the_tasks_find_tell_and_send(monkeypatch, mailoutbox):
    StaffFactory(role="workshop_manager", email="bruna@yard.example")
    watch(monkeypatch)["test.tag"] = [condition(rank="stop")]

    sweep_alerts()
    assert send_notices() == 1
    assert send_notices() == 0

    assert [mail.to for mail in mailoutbox] == [["bruna@yard.example"]]
    assert Delivery.objects.get().sent_at <= timezone.now()


def test_one_run_of_the_task_sends_no_more_than_its_time_allows(monkeypatch, mailoutbox):
    StaffFactory(role="workshop_manager", email="bruna@yard.example")
    found = watch(monkeypatch)
    for number in range(5):
        found[f"test.rule{number}"] = [condition(number, rank="stop")]
    sweep_alerts()

    assert [send_notices(limit=2) for _ in range(4)] == [2, 2, 1, 0]
    assert len({mail.subject for mail in mailoutbox}) == 5
