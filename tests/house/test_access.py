"""Role by route by thing: every address of the resolver against the table, with the client."""

import uuid
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from people.roles import EVERYBODY, Role
from tests.house.access_table import ROUTES
from tests.house.access_things import TOKEN, make_things

ALL_METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
SIGN_IN = "/sign-in/?next="


def _names(patterns, space="") -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from _names(pattern.url_patterns, inner)
        elif isinstance(pattern, URLPattern):
            yield f"{space}{pattern.name}"


NAMES = list(_names(get_resolver().url_patterns))


def test_every_address_has_a_row_and_every_row_an_address():
    assert len(NAMES) == len(set(NAMES))
    assert set(NAMES) == set(ROUTES)


def _views(patterns) -> Iterator[URLPattern]:
    for pattern in patterns:
        yield from _views(pattern.url_patterns) if isinstance(pattern, URLResolver) else [pattern]


def test_nothing_opens_without_signing_in_but_what_the_table_says():
    open_ones = {
        name
        for name, pattern in zip(NAMES, _views(get_resolver().url_patterns), strict=True)
        if not getattr(pattern.callback, "login_required", True)
    }
    assert open_ones == {name for name, route in ROUTES.items() if route.door != "staff"}


@pytest.fixture
def things(people, at):
    return make_things(people, at)


def _address(name, things, *, absent=False):
    parts = []
    for kind in ROUTES[name].things:
        part = things[kind]
        if absent and kind not in ("step", "token"):
            part = things.absent(kind)
        parts.append(part)
    return reverse(name, args=parts) + (things[ROUTES[name].query] if ROUTES[name].query else "")


def _visit(client, method, address):
    """One visit, with everything it changed taken back."""
    with transaction.atomic():
        if method == "PUT":
            answer = client.put(address, b"{}", content_type="application/json")
        elif method == "POST":
            # What a form left blank sends: its token and nothing else.
            answer = client.post(address, {"csrfmiddlewaretoken": "as a form sends it"})
        else:
            answer = getattr(client, method.lower())(address)
        if hasattr(answer, "streaming_content"):
            b"".join(answer.streaming_content)
        transaction.set_rollback(True)
    return answer


def _client(person=None):
    # A page that breaks is counted with the others instead of ending the test.
    client = Client(raise_request_exception=False)
    if person is not None:
        client.force_login(person)
    return client


def _expected(route, role, method):
    if method not in route.methods:
        return (405,)
    if role not in route.roles:
        return (403,)
    if role not in route.own:
        return (404,)
    return {"GET": route.get, "POST": route.post, "PUT": (422,)}[method]


def _at_the_door(door):
    return sorted(name for name, route in ROUTES.items() if route.door == door)


@pytest.mark.parametrize("role", list(Role))
def test_each_role_meets_what_the_table_says(role, things, people):
    client, wrong = _client(people[role]), {}
    for name, route in ROUTES.items():
        address = _address(name, things)
        for method in ALL_METHODS:
            # Signing out ends the very session that asks.
            visitor = _client(people[role]) if name == "people:sign_out" else client
            status, expected = _visit(visitor, method, address).status_code, _expected(route, role, method)
            if status not in expected:
                wrong[name, method] = (status, expected)
    assert wrong == {}


def test_nobody_signed_in_is_sent_to_sign_in_whatever_is_asked(things):
    for name in _at_the_door("staff"):
        for absent in (False, True):
            address = _address(name, things, absent=absent)
            for method in ALL_METHODS:
                answer = _visit(_client(), method, address)
                assert (answer.status_code, answer["Location"]) == (302, f"{SIGN_IN}{quote(address)}"), (
                    name,
                    method,
                )


def test_the_wire_says_so_in_json_and_never_redirects(things, people):
    for name in _at_the_door("wire"):
        address, method = _address(name, things), ROUTES[name].methods[0]
        for client, status in ((_client(), 401), (_client(people[Role.HIRE_DESK]), 403)):
            answer = _visit(client, method, address)
            assert (answer.status_code, answer["Content-Type"]) == (status, "application/problem+json"), name
            assert answer.json()["status"] == status


@pytest.mark.parametrize("role", list(Role))
def test_what_is_not_there_is_not_found_and_never_an_error(role, things, people):
    client, wrong = _client(people[role]), {}
    for name, route in ROUTES.items():
        # A waiting change that is not there is taken back like one that is; the wire makes what it names; and what is
        # typed at a plate is told nothing of the plate.
        silent = {"inspections:check_take_back", "hire:plate_open"}
        if not set(route.things) - {"sha256", "new_id", "token", "step", "hire"} or name in silent:
            continue
        address = _address(name, things, absent=True)
        for method in route.methods:
            status = _visit(client, method, address).status_code
            expected = 404 if role in route.roles else 403
            if status != expected:
                wrong[name, method] = (status, expected)
    assert wrong == {}


def test_what_is_open_answers_a_stranger(things):
    for name in _at_the_door("open"):
        assert _visit(_client(), "GET", _address(name, things)).status_code in ROUTES[name].get, name


def test_a_plate_shows_a_stranger_the_same_whatever_it_is(things):
    for name, method in (("fleet:plate", "GET"), ("hire:plate_open", "POST")):
        for absent in (False, True):
            answer = _visit(_client(), method, _address(name, things, absent=absent))
            assert answer.status_code == (200 if method == "GET" else 422), name
            assert not answer.cookies.keys() - {"csrftoken"}


def test_a_customers_link_opens_its_own_hire_and_nothing_else(things):
    page = reverse("hire:customer_page", args=[TOKEN])
    assert _visit(_client(), "GET", page).status_code == 200
    own = reverse("hire:customer_file", args=[TOKEN, things["certificate"]])
    assert _visit(_client(), "GET", own).status_code == 200
    for other in (things["other_certificate"], uuid.uuid4()):
        answer = _visit(_client(), "GET", reverse("hire:customer_file", args=[TOKEN, other]))
        assert answer.status_code == 404
        assert answer["Referrer-Policy"] == "no-referrer"
    for token in ("x", "token-that-was-never-made-00000", things["ended_token"], things["expired_token"]):
        for address in (
            reverse("hire:customer_page", args=[token]),
            reverse("hire:customer_file", args=[token, things["certificate"]]),
        ):
            assert _visit(_client(), "GET", address).status_code == 404


def test_a_customers_link_opens_no_page_of_the_yard(things):
    client = _client()
    client.get(reverse("hire:customer_page", args=[TOKEN]))
    for name, route in ROUTES.items():
        if route.door == "staff":
            assert client.get(_address(name, things)).status_code == 302, name


def test_a_disabled_person_opens_nothing(things, people):
    person = people[Role.FLEET_MANAGER]
    client = _client(person)
    person.is_active = False
    person.save()
    for name, route in ROUTES.items():
        if route.door == "staff":
            answer = _visit(client, "GET", _address(name, things))
            assert (answer.status_code, answer["Location"].startswith(SIGN_IN)) == (302, True), name


def test_the_table_names_only_roles_there_are():
    assert frozenset(Role) == EVERYBODY
    assert all(route.roles <= EVERYBODY and route.roles for route in ROUTES.values())
    assert timezone.now().tzinfo is not None
