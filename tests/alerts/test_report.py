"""The week in figures, against a week worked by hand; mailed once; and a rule nobody answers is pointed out."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from fleet.alerts.models import Alert, Delivery, Notice, SweepRun
from fleet.alerts.report import RuleFigures, figures, monday_in, owe_report, report, week_words
from people.roles import Role
from tests.factories.people import StaffFactory
from tests.pages import saved, text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
# The yard's Monday 30 November 2026, and the midnight it begins at (UTC+10:30).
MONDAY = date(2026, 11, 30)
START = datetime(2026, 11, 29, 13, 30, tzinfo=UTC)
END = START + 7 * DAY


def raised(at, rule="test.tag", **changes):
    return Alert.objects.create(
        **{
            "rule": rule, "subject_kind": "thing", "subject_id": uuid.uuid4(), "rank": "today",
            "for_role": "workshop_manager", "what": "x", "how_we_know": "x", "if_not": "x", "raised_at": at,
        }
        | changes
    )  # fmt: skip


def a_week(by):
    """Eight of one rule: five acted on after 1, 2, 4, 30 and 40 hours, two ignored, one in time still; one of another."""
    at = START + 10 * HOUR
    raised(at, taken_by=by, taken_at=at + HOUR)
    raised(at, taken_by=by, taken_at=at + 4 * HOUR, cleared_at=at + 90 * HOUR)
    raised(at, due_at=at + 2 * DAY, cleared_at=at + 30 * HOUR)
    raised(at, due_at=at - 9 * DAY, cleared_at=at + 2 * HOUR, times_reopened=2)
    raised(
        at, held_by=by, held_at=at + 40 * HOUR, held_on=MONDAY, held_until=MONDAY + 3 * DAY, held_because="x"
    )
    raised(at, due_at=at - 9 * DAY, cleared_at=at + DAY + timedelta(seconds=1))
    raised(at, due_at=at + 2 * DAY)
    raised(at, due_at=END + 9 * DAY)
    raised(END - timedelta(seconds=1), rule="test.tyre", cleared_at=END + HOUR)
    raised(START - timedelta(seconds=1), rule="test.before")
    raised(END, rule="test.after")


def test_a_week_worked_by_hand(people):
    a_week(people[Role.WORKSHOP_MANAGER])

    tag, tyre = figures(start=START, end=END, at=END + 2 * HOUR)

    assert tag == RuleFigures("test.tag", raised=8, acted=5, waiting=1, back=2, median=4 * HOUR)
    assert (tag.ignored, tag.noise, tag.acted_pct, tag.is_noise) == (2, 10, 71, False)
    assert tyre == RuleFigures(
        "test.tyre", raised=1, acted=1, waiting=0, back=0, median=HOUR + timedelta(seconds=1)
    )


@pytest.mark.parametrize(
    ("acted", "decided", "is_noise"),
    [(6, 9, True), (7, 10, False), (69, 100, True), (0, 4, False), (0, 5, True)],
)
def test_under_seventy_in_a_hundred_is_noise_once_there_are_five(acted, decided, is_noise):
    row = RuleFigures("test.tag", raised=decided + 3, acted=acted, waiting=3, back=0, median=None)
    assert row.is_noise is is_noise


def test_nothing_decided_has_no_share():
    row = RuleFigures("test.tag", raised=3, acted=0, waiting=3, back=0, median=None)
    assert (row.acted_pct, row.is_noise, row.ignored) == (None, False, 0)


@pytest.mark.parametrize("words", ["", "2026", "2026-W54", "x-Wy", "2026-W", "-W1"])
def test_a_week_that_is_none(words):
    assert monday_in(words) is None


def test_a_week_is_written_and_read_alike():
    assert (week_words(MONDAY), monday_in("2026-W49")) == ("2026-W49", MONDAY)


NEXT_MONDAY_0630 = START + 7 * DAY + timedelta(hours=6, minutes=30)


@pytest.fixture
def noor(db):
    SweepRun.objects.create(started_at=START, finished_at=START)
    return StaffFactory(full_name="Noor Halloran", role="fleet_manager", email="noor@yard.example")


def test_it_is_mailed_on_monday_at_the_digests_time_and_once(noor):
    a_week(noor)
    early = owe_report(at=NEXT_MONDAY_0630 - timedelta(seconds=1))
    # The Monday before has its own, of a week when nothing was watched yet.
    assert early is None

    notice = owe_report(at=NEXT_MONDAY_0630)

    assert notice.key == "report:2026-12-07"
    assert notice.subject == (
        "Alerts of the week from 30 Nov 2026: 9 raised, 6 acted on, 2 ignored, 1 still in time."
    )
    assert "Tag                                    8       5        2        1  4 h" in notice.body
    assert "Noisiest, each time it was raised or came back: Tag (10), Tyre (1)." in notice.body
    assert "/alerts/report/?week=2026-W49" in notice.body
    assert Delivery.objects.get().address == "noor@yard.example"
    for later in (timedelta(0), HOUR, 6 * DAY):
        assert owe_report(at=NEXT_MONDAY_0630 + later) is None
    assert Notice.objects.count() == 1


def test_a_yard_whose_watch_has_just_begun_is_sent_no_report(noor):
    SweepRun.objects.update(started_at=NEXT_MONDAY_0630)
    assert owe_report(at=NEXT_MONDAY_0630 + HOUR) is None


def test_a_rule_nobody_answers_is_pointed_out(noor):
    for n in range(5):
        raised(START - n * DAY, taken_by=noor if n == 0 else None, taken_at=START if n == 0 else None)

    found = report(MONDAY, at=END + 9 * DAY)

    assert [row.rule for row in found.noisy] == ["test.tag"]


def test_the_page_shows_a_week_and_the_ones_beside_it(people, sign_in):
    a_week(people[Role.WORKSHOP_MANAGER])
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    page = text_of(client.get("/alerts/report/?week=2026-W49")) if timezone.now() > END else ""
    running = text_of(client.get("/alerts/report/"))
    assert "Week before" in running
    assert "Week after" not in running
    assert "Week after" in text_of(client.get("/alerts/report/?week=2020-W10"))
    assert "No alert was raised in this week." in text_of(client.get("/alerts/report/?week=2020-W10"))
    assert client.get("/alerts/report/?week=nonsense").status_code == 200
    assert not page or "8" in page


def test_a_week_is_saved_as_a_file(people, sign_in):
    monday = datetime(2020, 3, 2, 12, tzinfo=UTC)
    person = people[Role.WORKSHOP_MANAGER]
    raised(monday, taken_by=person, taken_at=monday + 90 * timedelta(minutes=1))
    raised(monday, rule="test.tyre", times_reopened=2)
    client = sign_in(person)

    tyre, tag = saved(client, "/alerts/report/", week="2020-W10")

    assert (tyre["About"], tyre["Came back"], tyre["Ignored"], tyre["Median time to act, minutes"]) == (
        "Tyre",
        "2",
        "1",
        "",
    )
    assert (tag["Raised"], tag["Acted on, %"], tag["Median time to act, minutes"]) == ("1", "100", "90")
    assert saved(client, "/alerts/report/", week="2020-W11") == []
    assert sign_in(people[Role.FITTER]).get("/alerts/report/", {"as": "csv"}).status_code == 403
