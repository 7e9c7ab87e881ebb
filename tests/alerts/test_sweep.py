"""The sweep: one alert for one thing, raised once, grown in place, cleared by itself, whatever else fails."""

import threading
import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.alerts.actions import WATCHDOG, AlertGone, AlreadyTaken, sweep, take_alert
from fleet.alerts.models import Alert, SweepRun
from fleet.alerts.rules import Condition, register_rule, rules
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

SUBJECT = uuid.UUID(int=7)


def condition(**changes):
    return Condition(
        **{
            "subject_kind": "thing",
            "subject_id": SUBJECT,
            "cart_id": None,
            "rank": "soon",
            "for_role": Role.WORKSHOP_MANAGER,
            "what": "The tag is near its end.",
            "how_we_know": "It says so.",
            "if_not": "It lapses.",
        }
        | changes
    )


@pytest.fixture
def watched(monkeypatch):
    """watched["name"] = conditions now true, or an exception: the only rules there are."""
    found = {}

    def rule(name):
        def find(_at):
            if isinstance(found[name], Exception):
                raise found[name]
            return list(found[name])

        return find

    monkeypatch.setattr("fleet.alerts.actions.rules", lambda: {name: rule(name) for name in found})
    return found


def opened():
    return Alert.objects.open()


@pytest.mark.django_db
def test_a_sweep_raises_what_is_true_once(watched):
    watched["test.tag"] = [condition(), condition(subject_id=uuid.UUID(int=8))]

    run = sweep(at=NOW)

    assert (run.raised, run.cleared, run.failed_rules, run.finished_at) == (2, 0, "", NOW)
    alert = opened().get(subject_id=SUBJECT)
    assert (alert.rule, alert.rank, alert.raised_at, alert.what) == (
        "test.tag",
        "soon",
        NOW,
        "The tag is near its end.",
    )


@pytest.mark.django_db
def test_a_second_sweep_writes_nothing_to_the_alerts(watched):
    watched["test.tag"] = [condition()]
    sweep(at=NOW)
    before = list(Alert.objects.values())

    with CaptureQueriesContext(connection) as queries:
        run = sweep(at=NOW + timedelta(minutes=5))

    assert (run.raised, run.cleared) == (0, 0)
    assert list(Alert.objects.values()) == before
    told = [
        query["sql"] for query in queries if not query["sql"].startswith(("SELECT", "SAVEPOINT", "RELEASE"))
    ]
    # The cleared ones of no rule at all are an empty UPDATE the framework leaves out; only the run is written.
    assert [sql for sql in told if "alerts_alert" in sql] == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("away", "rows"),
    [(timedelta(hours=1), 1), (timedelta(hours=24) - timedelta(seconds=1), 1), (timedelta(hours=24), 2)],
)
def test_an_alert_clears_itself_and_within_a_day_comes_back_as_the_same(watched, away, rows):
    watched["test.tag"] = [condition()]
    sweep(at=NOW)
    watched["test.tag"] = []
    gone_at = NOW + timedelta(hours=1)

    run = sweep(at=gone_at)

    assert (run.raised, run.cleared) == (0, 1)
    assert Alert.objects.get().cleared_at == gone_at
    watched["test.tag"] = [condition(what="It is near its end again.")]
    sweep(at=gone_at + away)
    assert (Alert.objects.count(), opened().count()) == (rows, 1)
    back = opened().get()
    assert back.what == "It is near its end again."
    assert (back.raised_at, back.times_reopened, back.reopened_at) == (
        (NOW, 1, gone_at + away) if rows == 1 else (gone_at + away, 0, None)
    )


@pytest.mark.django_db
def test_an_alert_grows_in_rank_as_the_same_row_and_stays_taken(watched):
    watched["test.tag"] = [condition()]
    sweep(at=NOW)
    manager = StaffFactory(role="workshop_manager")
    taken = take_alert(alert=opened().get(), by=manager, at=NOW)
    watched["test.tag"] = [condition(rank="stop", what="The tag has ended.")]

    run = sweep(at=NOW + timedelta(days=1))

    grown = Alert.objects.get()
    assert (run.raised, run.cleared) == (0, 0)
    assert (grown.pk, grown.rank, grown.what) == (taken.pk, "stop", "The tag has ended.")
    assert (grown.raised_at, grown.taken_by) == (NOW, manager)


@pytest.mark.django_db
def test_one_rule_says_nothing_of_another_s_alerts(watched):
    watched["test.tag"], watched["test.tyre"] = [condition()], [condition()]
    sweep(at=NOW)
    watched["test.tyre"] = []
    sweep(at=NOW)

    assert opened().get().rule == "test.tag"


@pytest.mark.django_db
def test_a_rule_that_fails_keeps_its_alerts_and_is_itself_alerted_until_it_works(watched):
    watched["test.tag"], watched["test.tyre"] = [condition()], [condition(what="The tyre is low.")]
    sweep(at=NOW)
    watched["test.tag"] = ZeroDivisionError("no records")
    watched["test.tyre"] = []

    run = sweep(at=NOW + timedelta(minutes=5))

    assert run.failed_rules == "test.tag"
    assert {alert.rule for alert in opened()} == {"test.tag", WATCHDOG}
    watchdog = opened().get(rule=WATCHDOG)
    assert (watchdog.for_role, watchdog.rank) == (Role.FLEET_MANAGER, "today")
    assert "“test.tag”" in watchdog.what
    assert sweep(at=NOW + timedelta(minutes=10)).raised == 0
    watched["test.tag"] = []
    sweep(at=NOW + timedelta(minutes=15))
    assert not opened().exists()


@pytest.mark.django_db
def test_a_rule_whose_query_fails_does_not_take_the_others_with_it(monkeypatch):
    def broken(_at):
        with connection.cursor() as cursor:
            cursor.execute("SELECT * FROM no_such_table")

    monkeypatch.setattr("fleet.alerts.rules._rules", {"test.a": broken, "test.b": lambda _at: [condition()]})

    run = sweep(at=NOW)

    assert run.failed_rules == "test.a"
    assert {alert.rule for alert in opened()} == {"test.b", WATCHDOG}


@pytest.mark.django_db(transaction=True)
def test_of_two_sweeps_at_once_the_second_goes_home(monkeypatch):
    inside, go_on, first = threading.Event(), threading.Event(), []

    def slow(_at):
        inside.set()
        assert go_on.wait(timeout=30)
        return [condition()]

    monkeypatch.setattr("fleet.alerts.rules._rules", {"test.slow": slow})

    def run():
        try:
            first.append(sweep(at=NOW))
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    try:
        assert inside.wait(timeout=30)
        assert sweep(at=NOW) is None
    finally:
        go_on.set()
        thread.join(timeout=30)

    assert first[0].raised == 1
    assert (Alert.objects.count(), SweepRun.objects.count()) == (1, 1)


def raw_alert(**changes):
    facts = {name: value for name, value in vars(condition()).items() if name != "only_keeps"}
    return Alert(rule="test.tag", raised_at=NOW, **facts | changes)


@pytest.mark.django_db
def test_the_database_itself_forbids_a_second_open_alert_of_one_thing():
    raw_alert().save()

    with pytest.raises(IntegrityError, match="alerts_alert_one_open"), transaction.atomic():
        raw_alert(what="Said otherwise.").save()

    raw_alert(cleared_at=NOW).save()
    raw_alert(subject_id=uuid.UUID(int=9)).save()
    assert opened().count() == 2


@pytest.mark.django_db
def test_the_database_itself_forbids_clearing_before_raising():
    with pytest.raises(IntegrityError, match="alerts_alert_period_in_order"), transaction.atomic():
        raw_alert(cleared_at=NOW - timedelta(seconds=1)).save()


def test_a_name_belongs_to_one_rule(monkeypatch):
    monkeypatch.setattr("fleet.alerts.rules._rules", {})

    def find(_at):
        return []

    register_rule("test.tag", find)
    register_rule("test.tag", find)
    with pytest.raises(ValueError, match=r"test\.tag"):
        register_rule("test.tag", lambda _at: [])
    assert list(rules()) == ["test.tag"]


@pytest.mark.django_db
def test_taking_an_alert_names_who_has_it_and_is_journalled_once(people):
    alert = raw_alert()
    alert.save()
    manager = people[Role.WORKSHOP_MANAGER]

    take_alert(alert=alert, by=manager, at=NOW)
    again = take_alert(alert=alert, by=manager, at=NOW + timedelta(hours=1))

    assert (again.taken_by, again.taken_at) == (manager, NOW)
    entry = Entry.objects.get()
    assert (entry.event, entry.chain, entry.subject_id) == ("fleet.alert.taken", "yard", alert.pk)


@pytest.mark.django_db
def test_an_alert_is_taken_by_its_role_or_the_fleet_manager(people):
    for role in Role:
        alert = raw_alert(subject_id=uuid.uuid4())
        alert.save()
        if role in (Role.WORKSHOP_MANAGER, Role.FLEET_MANAGER):
            assert take_alert(alert=alert, by=people[role], at=NOW).taken_by == people[role]
        else:
            with pytest.raises(NotAllowed, match="workshop manager"):
                take_alert(alert=alert, by=people[role], at=NOW)


@pytest.mark.django_db
def test_a_taken_or_cleared_alert_is_not_taken(people):
    taken, gone = raw_alert(), raw_alert(subject_id=uuid.uuid4(), cleared_at=NOW)
    taken.save()
    gone.save()
    take_alert(alert=taken, by=people[Role.WORKSHOP_MANAGER], at=NOW)

    with pytest.raises(AlreadyTaken, match=people[Role.WORKSHOP_MANAGER].full_name):
        take_alert(alert=taken, by=people[Role.FLEET_MANAGER], at=NOW)
    with pytest.raises(AlertGone):
        take_alert(alert=gone, by=people[Role.FLEET_MANAGER], at=NOW)
