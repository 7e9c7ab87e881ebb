"""Every page of every role in the words of another rule set: no word of the house is left but where somebody typed it."""

import re
from collections import defaultdict

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from people.roles import Role
from tests.house.access_table import ROUTES
from tests.house.access_things import make_things
from tests.other_words import left_over, rule_set

TYPED = ("Redgum Flat Water Carts", "Any cart, dry")
# The sample it shows was issued in the words of the house, and stays so.
FROZEN = "inspections:certificate_detail"


@pytest.fixture
def american(settings, db):
    with rule_set("us", settings):
        yield


@pytest.fixture
def things(american, people, at):
    return make_things(people, at)


def _address(name, things):
    route = ROUTES[name]
    return reverse(name, args=[things[kind] for kind in route.things]) + (
        things[route.query] if route.query else ""
    )


def _who(route, people):
    """Somebody the page opens for: the one with most to read on it."""
    return next(
        (
            people[role]
            for role in (Role.FLEET_MANAGER, Role.HIRE_DESK, *Role)
            if role in route.roles & route.own
        ),
        None,
    )


def _pages(people, things):
    """Every page once, as a bare visit and an empty form give it, with the way there."""
    for name, route in ROUTES.items():
        if name in ("people:sign_out", FROZEN) or route.door == "wire":
            continue
        client, who = Client(raise_request_exception=False), _who(route, people)
        if route.door == "staff" and who is not None:
            client.force_login(who)
        for method in sorted({"GET", "POST"} & set(route.methods)):
            with transaction.atomic():
                answer = getattr(client, method.lower())(
                    _address(name, things), {"csrfmiddlewaretoken": "as sent"} if method == "POST" else None
                )
                if hasattr(answer, "streaming_content"):
                    b"".join(answer.streaming_content)
                transaction.set_rollback(True)
            if answer.get("Content-Type", "").startswith(("text/html", "image/svg")):
                yield f"{method} {name}", answer.content.decode()


def _left(pages):
    left = defaultdict(list)
    for name, page in pages:
        for line in left_over(page, "us", *TYPED):
            left[line].append(name)
    return dict(left)


def test_no_word_of_the_house_is_left_on_any_page(things, people):
    seen = list(_pages(people, things))
    assert sum("truck" in page for _, page in seen) > 100
    assert _left(seen) == {}


def test_nor_on_the_first_pages_of_each_role(things, people):
    left = {}
    for role, person in people.items():
        client = Client()
        client.force_login(person)
        home = client.get("/", follow=True).content.decode()
        ways = {way for way in re.findall(r'href="(/[^"#?]*)"', home) if re.fullmatch(r"/[a-z/-]*", way)}
        assert "truck" in home.lower()
        left[role] = _left(
            [("/", home), *((way, client.get(way, follow=True).content.decode()) for way in sorted(ways))]
        )
    assert left == {role: {} for role in people}
