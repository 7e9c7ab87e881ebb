"""The first word and the last on the wire: who is signed in, and what the yard holds."""

import json
import uuid
from datetime import datetime

import pytest
from django.conf import settings
from django.test import Client

from people.canonical import canonical_text, sha256_hex
from people.roles import WALKERS, Role
from tests.factories import inspections as walk
from tests.inspections.wire import put

HELLO = "/sync/hello"


def test_a_stranger_is_told_that_nobody_is_signed_in(db, now):
    answer = Client().get(HELLO)
    told = answer.json()
    assert (answer.status_code, answer["Content-Type"], answer["Cache-Control"]) == (
        200,
        "application/json",
        "no-store",
    )
    assert set(told) == {"version", "server_time", "csrf", "person", "may_walk", "signed_in_at", "tablet"}
    assert (told["version"], told["person"], told["may_walk"]) == (1, None, False)
    # A token made here would spoil the sign-in form that is open beside it.
    assert (told["csrf"], dict(answer.cookies)) == ("", {})
    assert abs((datetime.fromisoformat(told["server_time"]) - now).total_seconds()) < 60


@pytest.mark.parametrize("role", list(Role))
def test_each_person_is_named_and_told_whether_they_walk(client, people, role):
    person = people[role]
    client.force_login(person)
    told = client.get(HELLO).json()
    assert told["person"] == {"id": str(person.pk), "name": person.full_name, "role": role.value}
    assert told["may_walk"] is (role in WALKERS)


def test_whose_access_has_ended_is_nobody(tablet, people):
    person = people[Role.YARD_HAND]
    person.is_active = False
    person.save()
    told = tablet.get(HELLO).json()
    assert (told["person"], told["may_walk"]) == (None, False)


def test_its_token_is_good_for_the_record_it_precedes(people, cart, now):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(people[Role.YARD_HAND])
    body = walk.manifest(cart, at=now)
    answer = strict.get(HELLO)
    assert settings.CSRF_COOKIE_NAME in answer.cookies
    sent = strict.put(
        f"/sync/walk-round/{body['id']}", json.dumps(body), content_type="application/json",
        headers={"X-CSRFToken": answer.json()["csrf"]},
    )  # fmt: skip
    assert sent.status_code == 201


def test_the_token_of_another_session_is_turned_down_and_a_fresh_one_is_a_hello_away(people, cart, now):
    strict = Client(enforce_csrf_checks=True)
    old = strict.get(HELLO).json()["csrf"]
    body = walk.manifest(cart, at=now)
    # Signing in makes a new token: what was fetched before is worth nothing.
    strict.cookies.clear()
    strict.force_login(people[Role.YARD_HAND])
    new = strict.get(HELLO).json()["csrf"]
    statuses = [
        strict.put(
            f"/sync/walk-round/{body['id']}", json.dumps(body), content_type="application/json", headers={"X-CSRFToken": token}
        ).status_code
        for token in (old, new)
    ]  # fmt: skip
    assert statuses == [403, 201]


@pytest.mark.parametrize("path", [HELLO, "/sync/held"])
@pytest.mark.parametrize("method", ["post", "put", "delete", "head"])
def test_they_are_asked_in_one_way_only(tablet, path, method):
    answer = getattr(tablet, method)(path)
    assert (answer.status_code, answer["Content-Type"], answer["Allow"]) == (
        405,
        "application/problem+json",
        "GET",
    )


def held(tablet, *ids):
    return tablet.get("/sync/held", {"id": ids})


def test_the_yard_says_which_records_it_holds_and_under_which_hash(tablet, cart, now):
    bodies = [walk.manifest(cart, at=now) for _ in range(2)]
    put(tablet, bodies[0])
    answer = held(tablet, *(body["id"] for body in bodies), uuid.uuid4())
    assert answer.status_code == 200
    assert answer.json() == {"held": {bodies[0]["id"]: sha256_hex(canonical_text(bodies[0]))}}


def test_nothing_asked_is_nothing_held(tablet):
    assert held(tablet).json() == {"held": {}}


def test_a_hundred_can_be_asked_about_at_once_in_two_queries(tablet, cart, now, django_assert_num_queries):
    body = walk.manifest(cart, at=now)
    put(tablet, body)
    ids = [body["id"], *(uuid.uuid4() for _ in range(99))]
    held(tablet)
    # The session, its person, the walk-rounds, the tests of heads.
    with django_assert_num_queries(4):
        assert list(held(tablet, *ids).json()["held"]) == [body["id"]]
    answer = held(tablet, *ids, uuid.uuid4())
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")


@pytest.mark.parametrize("wrong", ["", "walk-7", "7", "x" * 4000, "\x00"])
def test_what_is_no_id_is_refused_in_a_sentence(tablet, wrong):
    answer = held(tablet, uuid.uuid4(), wrong)
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
