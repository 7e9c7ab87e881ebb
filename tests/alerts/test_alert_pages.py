"""The list of alerts and taking one: to whom what is shown, and that a silent watch is not read as a quiet yard."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.alerts.models import Alert, SweepRun
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.pages import queries_of

pytestmark = pytest.mark.django_db


def alert(role=Role.WORKSHOP_MANAGER, **changes):
    return Alert.objects.create(
        **{
            "rule": "test.tag",
            "subject_kind": "thing",
            "subject_id": uuid.uuid4(),
            "rank": "today",
            "for_role": role,
            "what": "The tag is near its end.",
            "how_we_know": "It says so.",
            "if_not": "It lapses.",
            "raised_at": timezone.now() - timedelta(hours=2, minutes=1),
        }
        | changes
    )


def listed(answer):
    """The alerts of the page in their order, by rule or not."""
    rows = [row for group in answer.context["groups"] for row in group.rows]
    return [row.alert for row in rows]


def swept(minutes_ago=1):
    at = timezone.now() - timedelta(minutes=minutes_ago)
    SweepRun.objects.create(started_at=at, finished_at=at)


@pytest.mark.parametrize("role", list(Role))
def test_each_sees_the_alerts_of_their_role_and_the_fleet_manager_all(people, sign_in, role):
    for one in Role:
        alert(one, what=f"For the {one.value}.")

    answer = sign_in(people[role]).get("/alerts/")

    shown = {one.for_role for one in listed(answer)}
    assert shown == ({one.value for one in Role} if role == Role.FLEET_MANAGER else {role.value})


def test_worst_first_then_soonest(people, sign_in):
    now = timezone.now()
    alert(rank="soon", what="D")
    alert(rank="today", what="C")
    alert(rank="today", what="B", due_at=now)
    alert(rank="stop", what="A")
    alert(rank="stop", what="Gone", cleared_at=now)

    answer = sign_in(people[Role.WORKSHOP_MANAGER]).get("/alerts/")
    assert [one.what for one in listed(answer)] == ["A", "B", "C", "D"]


def test_a_line_says_what_how_we_know_what_if_not_and_how_long_ago(people, sign_in):
    swept()
    cart = CartFactory()
    alert(cart=cart)

    page = sign_in(people[Role.WORKSHOP_MANAGER]).get("/alerts/").content.decode()

    told = ("Today. The tag is near its end.", "It says so.", "It lapses.", "Found 2\xa0h 1\xa0min ago")
    for words in (*told, f"Open {cart.fleet_number}"):
        assert words in page


def test_taking_one_names_its_taker_to_everybody(people, sign_in):
    one, manager = alert(), people[Role.WORKSHOP_MANAGER]

    page = sign_in(manager).post(f"/alerts/{one.pk}/take/", follow=True).content.decode()

    assert "Yours: The tag is near its end." in page
    assert f"{manager.full_name} has it" in page
    assert "I’ve got it:" not in page
    one.refresh_from_db()
    assert one.taken_by == manager


def test_a_taken_one_is_refused_in_words(people, sign_in):
    one = alert(taken_by=people[Role.WORKSHOP_MANAGER], taken_at=timezone.now())

    page = sign_in(people[Role.FLEET_MANAGER]).post(f"/alerts/{one.pk}/take/", follow=True).content.decode()

    assert f"{people[Role.WORKSHOP_MANAGER].full_name} has it already." in page


def test_another_role_s_alert_is_not_there_to_be_taken(people, sign_in):
    one = alert()

    assert sign_in(people[Role.HIRE_DESK]).post(f"/alerts/{one.pk}/take/").status_code == 404
    assert sign_in(people[Role.WORKSHOP_MANAGER]).get(f"/alerts/{one.pk}/take/").status_code == 405


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", ""])
def test_taking_one_never_leads_off_the_site(people, sign_in, back):
    answer = sign_in(people[Role.WORKSHOP_MANAGER]).post(f"/alerts/{alert().pk}/take/", {"back": back})

    assert answer.headers["Location"] == "/alerts/"


@pytest.mark.parametrize(
    ("minutes_ago", "words"),
    [
        (1, "Nothing asks for you now."),
        (9, "Nothing asks for you now."),
        (11, "Something may have lapsed since: tell the fleet manager."),
        (None, "The watch has not looked yet"),
    ],
)
def test_a_silent_watch_is_not_read_as_a_quiet_yard(people, sign_in, minutes_ago, words):
    if minutes_ago is not None:
        swept(minutes_ago)

    page = sign_in(people[Role.FITTER]).get("/alerts/").content.decode()

    assert words in page
    assert ("Nothing asks for you now." in page) == (minutes_ago in (1, 9))


def test_thirty_alerts_cost_as_many_queries_as_three(people, sign_in):
    """Session, person, open alerts of the role; then a count, the page and the last sweep."""
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def queries_with(more):
        for _ in range(more):
            alert(cart=CartFactory(), taken_by=people[Role.WORKSHOP_MANAGER], taken_at=timezone.now())
        return queries_of(client, "/alerts/")

    assert queries_with(3) == queries_with(27)


def test_the_alerts_of_the_role_are_saved_as_a_file(people, sign_in):
    alert(what="=Mine")
    alert(Role.HIRE_DESK, what="Another role's")
    file = sign_in(people[Role.WORKSHOP_MANAGER]).get("/alerts/?as=csv").content.decode("utf-8-sig")
    # What a spreadsheet would take for a sum stays words.
    assert "'=Mine" in file
    assert "Another role's" not in file
