"""A shared tablet changes hands over the wire, and a name that came in under another's sign-in is confirmed by PIN."""

import json
import uuid
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from inspections.models import NameConfirmation, WalkRound
from people.actions import set_access
from people.roles import Role
from people.tablets.actions import note_password_sign_in
from people.tablets.models import PasswordSignIn, Tablet
from tests.factories import inspections as walk
from tests.factories.people import PASSWORD
from tests.factories.tablets import OTHER_PIN, PIN, enrolled, hand, manager
from tests.inspections.wire import put

CHANGE_OVER, HELLO = "/sync/change-over", "/sync/hello"


@pytest.fixture
def shared(client, now, db):
    """The client is an enrolled tablet on which nobody is signed in."""
    return enrolled(client, at=now)


@pytest.fixture
def wes(shared, now):
    return hand("Wes Tonkin", tablet=shared, at=now)


@pytest.fixture
def ruby(shared, now):
    return hand("Ruby Anselm", tablet=shared, at=now, pin=OTHER_PIN)


def post(client, address, body, **headers):
    raw = body if isinstance(body, bytes) else json.dumps(body)
    return client.post(address, raw, content_type="application/json", headers=headers)


def take(client, person, pin=PIN, **headers):
    return post(client, CHANGE_OVER, {"person": str(person.pk), "pin": pin}, **headers)


def by_password(client, person):
    return client.post("/sign-in/", {"username": person.username, "password": PASSWORD})


def who(client):
    told = client.get(HELLO).json()
    return told["person"] and told["person"]["name"]


def test_the_one_whose_pin_it_is_has_the_tablet(client, wes, ruby):
    by_password(client, ruby)
    answer = take(client, wes)
    assert answer.status_code == 200
    assert answer.json()["person"] == {"id": str(wes.pk), "name": "Wes Tonkin", "role": "yard_hand"}
    assert who(client) == "Wes Tonkin"


@pytest.mark.parametrize("before_them", ["ruby", "wes"])
def test_the_session_is_a_fresh_one_marked_and_no_longer_than_the_pin_counts(
    request, client, wes, shared, before_them
):
    by_password(client, request.getfixturevalue(before_them))
    session = client.session
    session["left_over"] = "from the person before"
    session.save()
    before = session.session_key
    PasswordSignIn.objects.filter(person=wes).update(at=timezone.now() - timedelta(hours=13))
    take(client, wes)
    after = client.session
    assert after.session_key != before
    assert "left_over" not in after
    assert (after["by_pin"], after["tablet"]) == (True, str(shared.pk))
    assert 3500 < after.get_expiry_age() <= 3600
    assert not Client().session.exists(before)


def test_a_session_says_since_when_so_that_a_page_sees_somebody_sign_in(client, wes):
    by_password(client, wes)
    first = client.get(HELLO).json()["signed_in_at"]
    assert first == client.get(HELLO).json()["signed_in_at"]
    take(client, wes)
    assert first < client.get(HELLO).json()["signed_in_at"]


def test_another_pin_changes_nothing(client, wes, ruby):
    by_password(client, ruby)
    answer = take(client, wes, OTHER_PIN)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["detail"] == "That is not the PIN of Wes Tonkin. Try again."
    assert who(client) == "Ruby Anselm"


def test_too_many_tries_are_told_to_wait_in_seconds(client, wes):
    for _ in range(4):
        take(client, wes, OTHER_PIN)
    answer = take(client, wes)
    told = answer.json()
    assert (answer.status_code, answer["Content-Type"]) == (429, "application/problem+json")
    assert 0 < told["wait_seconds"] <= 6
    assert answer["Retry-After"] == str(told["wait_seconds"])
    assert told["detail"] == f"Too many wrong PINs. Wait {told['wait_seconds']} seconds, then try again."
    assert who(client) is None


def test_only_on_an_enrolled_tablet(client, wes):
    for stranger in (Client(), client):
        if stranger is client:
            stranger.cookies[settings.TABLET_COOKIE_NAME] = "x" * 43
        answers = [stranger.get(CHANGE_OVER), take(stranger, wes)]
        assert [answer.status_code for answer in answers] == [403, 403]
        assert answers[0]["Content-Type"] == "application/problem+json"
        assert "not enrolled" in answers[0].json()["detail"]


def test_a_customers_tablet_has_no_staff(client, wes):
    assert client.get(CHANGE_OVER, headers={"Slake-Hire": str(uuid.uuid4())}).status_code == 403
    assert take(client, wes, **{"Slake-Hire": str(uuid.uuid4())}).status_code == 403


@pytest.mark.parametrize(
    "body", [b"", b"nonsense", [], "pin", {}, {"pin": PIN}, {"person": "x", "pin": PIN}, {"person": 7, "pin": PIN},
             {"person": str(uuid.uuid4()), "pin": 480216}, {"person": str(uuid.uuid4()), "pin": PIN},
             {"person": str(uuid.uuid4()), "pin": None}, b"[" * 900]
)  # fmt: skip
def test_what_is_no_change_over_is_refused_in_a_sentence(client, shared, body):
    answer = post(client, CHANGE_OVER, body)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["detail"].endswith(".")


def test_a_body_that_is_no_pin_at_all_is_not_read(client, shared):
    assert post(client, CHANGE_OVER, {"pin": "1" * 2000}).status_code == 413


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_it_is_asked_in_two_ways_only(client, shared, method):
    answer = getattr(client, method)(CHANGE_OVER)
    assert (answer.status_code, answer["Allow"]) == (405, "GET, POST")


def strict_tablet(client):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies[settings.TABLET_COOKIE_NAME] = client.cookies[settings.TABLET_COOKIE_NAME].value
    return strict


def test_a_tablet_with_nobody_on_it_gets_its_token_here_and_without_one_nothing_moves(client, wes):
    strict = strict_tablet(client)
    hello = strict.get(HELLO)
    assert (hello.json()["csrf"], settings.CSRF_COOKIE_NAME in hello.cookies) == ("", False)
    assert take(strict, wes).status_code == 403
    token = strict.get(CHANGE_OVER).json()["csrf"]
    answer = take(strict, wes, **{"X-CSRFToken": token})
    assert answer.status_code == 200
    # The token that came with it is the one for what follows; the one before it is not.
    body = {"pin": PIN}
    address = f"/sync/walk-round/{uuid.uuid4()}/name"
    assert post(strict, address, body, **{"X-CSRFToken": token}).status_code == 403
    assert post(strict, address, body, **{"X-CSRFToken": answer.json()["csrf"]}).status_code == 404


def test_hello_names_the_tablet_and_notes_that_it_was_heard_of(client, shared, now):
    answer = client.get(HELLO)
    assert answer.json()["tablet"] == {"name": "Wash bay"}
    assert answer.cookies[settings.TABLET_COOKIE_NAME]["httponly"] is True
    assert Tablet.objects.get().last_seen_at >= now
    again = client.get(HELLO)
    assert settings.TABLET_COOKIE_NAME not in again.cookies


def test_the_list_names_who_may_take_the_tablet_and_no_secret_of_theirs(client, cart, wes, shared, now):
    bruna = hand("Bruna Kitto", at=now, pin=None, role=Role.WORKSHOP_MANAGER)
    teo = hand("Teo Marsden", at=now, pin=None, role=Role.FITTER)
    hand("Dot Farrugia", at=now, pin=None, role=Role.HIRE_DESK)
    gone = hand("Gil Rowe", at=now)
    set_access(person=gone, is_active=False, by=manager(), at=now)
    by_password(client, wes)
    told = client.get("/sync/reference")
    found = {one["name"]: one for one in told.json()["people"]}
    assert {"Bruna Kitto", "Teo Marsden", "Wes Tonkin"} <= set(found)
    assert not {"Dot Farrugia", "Gil Rowe"} & set(found)
    assert found["Wes Tonkin"] == {"id": str(wes.pk), "name": "Wes Tonkin", "role": "yard_hand", "pin": True}
    assert [found[one.full_name]["pin"] for one in (bruna, teo)] == [False, False]
    assert wes.tablet_pin.hash not in told.content.decode()
    elsewhere = Client()
    elsewhere.force_login(wes)
    assert elsewhere.get("/sync/reference").json()["people"] == []


@pytest.fixture
def others(client, cart, wes, ruby, now):
    """A pre-hire check Wes signed while Ruby was signed in; Ruby has the tablet."""
    by_password(client, ruby)
    answer = put(client, walk.manifest(cart, "pre_hire", at=now, **walk.signed_by(wes)))
    assert (answer.status_code, answer.json()["name_confirmed"]) == (201, False)
    return WalkRound.objects.get()


def name(client, walk_id, pin):
    return post(client, f"/sync/walk-round/{walk_id}/name", {"pin": pin})


def test_the_author_confirms_by_pin_whoever_has_the_tablet(client, others, wes, ruby):
    answer = name(client, others.pk, PIN)
    assert (answer.status_code, answer.json()) == (200, {"name_confirmed": True})
    kept = NameConfirmation.objects.get()
    assert (kept.by, kept.how) == (wes, "pin")
    assert who(client) == "Ruby Anselm"
    # Said twice, or by somebody else since: it stands, and no try is counted.
    assert name(client, others.pk, OTHER_PIN).json() == {"name_confirmed": True}
    assert NameConfirmation.objects.count() == 1


def test_nobody_elses_pin_confirms_it(client, others):
    answer = name(client, others.pk, OTHER_PIN)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert not NameConfirmation.objects.exists()


def test_guessing_here_and_changing_over_are_counted_together(client, others, wes):
    for _ in range(2):
        name(client, others.pk, OTHER_PIN)
        take(client, wes, OTHER_PIN)
    answer = name(client, others.pk, PIN)
    assert answer.status_code == 429
    assert "Wait" in answer.json()["detail"]
    assert not NameConfirmation.objects.exists()


def test_the_author_must_have_signed_in_here_this_shift(client, others, wes, shared, now):
    PasswordSignIn.objects.filter(person=wes).update(at=now - timedelta(hours=14))
    assert "has not signed in with the password" in name(client, others.pk, PIN).json()["detail"]
    note_password_sign_in(tablet=shared, by=wes, at=timezone.now())
    assert name(client, others.pk, PIN).status_code == 200


def test_a_name_is_confirmed_by_pin_on_an_enrolled_tablet_alone(client, others, ruby):
    elsewhere = Client()
    elsewhere.force_login(ruby)
    assert name(elsewhere, others.pk, PIN).status_code == 403
    client.post("/sign-out/")
    assert name(client, others.pk, PIN).status_code == 401


def test_what_the_yard_does_not_have_has_no_name(client, others):
    assert name(client, uuid.uuid4(), PIN).status_code == 404


def test_this_was_me_in_a_session_by_pin_says_by_pin(client, others, wes):
    take(client, wes)
    client.post(f"/walk-rounds/{others.pk}/this-was-me/")
    assert NameConfirmation.objects.get().how == "pin"
