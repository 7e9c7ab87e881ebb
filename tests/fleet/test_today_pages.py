"""The first page of each role, and finding a cart from anywhere."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.models import Alert
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.fleet.wanting import wanted
from tests.pages import text_of

pytestmark = pytest.mark.django_db


def test_a_yard_hand_goes_straight_to_the_carts_to_walk(people, sign_in):
    assert sign_in(people[Role.YARD_HAND]).get("/").url == reverse("inspections:capture")


def test_today_shows_what_is_wanted_soonest_first_and_nothing_later(people, sign_in, monkeypatch):
    soon, sooner, later, _never = [
        CartFactory(fleet_number=name) for name in ("SOON", "SOONER", "LATER", "NEVER")
    ]
    now = timezone.now()
    starts = {
        soon: now + timedelta(hours=40),
        sooner: now + timedelta(hours=2),
        later: now + timedelta(hours=60),
    }
    wanted(monkeypatch, starts)
    answer = sign_in(people[Role.HIRE_DESK]).get("/")
    assert [row.cart.fleet_number for row in answer.context["rows"]] == ["SOONER", "SOON"]
    assert "Customer of SOONER" in text_of(answer)


def test_today_with_nothing_says_what_to_do(people, sign_in):
    body = text_of(sign_in(people[Role.HIRE_DESK]).get("/"))
    assert "No cart is out, and none is wanted in the next two days." in body
    assert "Nothing asks for you now." in body


def alert(role, **facts):
    said = {
        "rule": "any.rule", "subject_kind": "cart", "subject_id": uuid.uuid4(), "rank": "stop", "for_role": role,
        "what": "The extinguisher fell due.", "how_we_know": "By its tag.", "if_not": "The cart stays.",
        "raised_at": timezone.now(),
    }  # fmt: skip
    return Alert.objects.create(**said | facts)


def test_an_alert_says_what_how_we_know_what_if_not_and_is_taken_from_here(people, sign_in):
    manager, cart = people[Role.WORKSHOP_MANAGER], CartFactory(fleet_number="WC-47")
    mine = alert("workshop_manager", cart=cart, subject_kind="cart", subject_id=cart.pk, act="Fit a new one")
    alert("hire_desk", what="Not for them.")
    client = sign_in(manager)
    body = text_of(client.get("/"))
    for words in (
        "The extinguisher fell due.", "By its tag. The cart stays.", "I’ve got it", "Open WC-47", "Fit a new one</a>",
    ):  # fmt: skip
        assert words in body
    assert "Not for them." not in body
    taken = client.post(reverse("alerts:alert_take", args=[mine.pk]), {"back": "/"}, follow=True)
    assert taken.redirect_chain == [("/", 302)]
    assert f"{manager.full_name} has it." in text_of(taken)


def test_one_hit_opens_its_cart_and_several_are_listed(people, sign_in):
    client = sign_in(people[Role.HIRE_DESK])
    one = CartFactory(fleet_number="WC-47", plate="S491 BKT")
    CartFactory(fleet_number="WC-48", plate="S492 BKT")
    for words in ("wc47", "491-b"):
        assert client.get("/find/", {"q": words}).url == reverse("fleet:cart_detail", args=[one.pk])
    several = client.get("/find/", {"q": "WC-4"})
    assert [row.cart.fleet_number for row in several.context["rows"]] == ["WC-47", "WC-48"]
    assert "No cart has that" in text_of(client.get("/find/", {"q": "ZZZ"}))
    assert "Which cart?" in text_of(client.get("/find/"))


def test_a_long_find_shows_fifty_and_says_so(people, sign_in):
    CartFactory.create_batch(51, gear=(), meters=(), layout="4x2")
    answer = sign_in(people[Role.HIRE_DESK]).get("/find/", {"q": "T"})
    assert len(answer.context["rows"]) == 50
    assert "The first 50 are shown." in text_of(answer)
