"""A registration with conditions: the cart goes with them as a limit, on a road, and they stand on its papers."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions.equipment import record_document
from fleet.readiness import Window, readiness_each
from hire.actions.gate import valid_certificate
from inspections.certificates.actions import paper_of
from people.roles import Role
from tests.factories.fleet import CartFactory, DocumentFactory
from tests.factories.hire import ready_line
from tests.pages import text_of, today

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
WORDS = "Not over 80 km/h. By day only."


def limits_of(cart, way="road"):
    now = timezone.now()
    window = Window(now, now + DAY, leaves_by=way, works_on=way)
    [answer] = readiness_each([cart], windows={cart.pk: window}, at=now).values()
    return [one.sentence for one in answer.limits]


@pytest.mark.parametrize("more", [{}, {"expires_on": None}])
def test_a_cart_goes_with_the_conditions_of_its_registration_on_a_road(more):
    cart = CartFactory()
    assert limits_of(cart) == []
    DocumentFactory(cart=cart, issued_on=today() - 30 * DAY, conditions=WORDS, **more)
    assert limits_of(cart) == ["Registration: Not over 80 km/h. By day only."]
    assert limits_of(cart, "site") == []


def test_a_newer_paper_without_conditions_frees_it_and_a_lapsed_one_says_nothing():
    cart = CartFactory()
    DocumentFactory(cart=cart, issued_on=today() - 90 * DAY, expires_on=today() - DAY, conditions=WORDS)
    assert limits_of(cart) == []
    DocumentFactory(cart=cart, issued_on=today() - 30 * DAY, expires_on=today() + 30 * DAY, conditions=WORDS)
    DocumentFactory(cart=cart, issued_on=today(), expires_on=today() + 365 * DAY)
    assert limits_of(cart) == []


def test_they_are_recorded_with_the_paper_and_stand_on_the_carts_page_and_its_certificate(
    people, sign_in, hand, at
):
    cart, manager = CartFactory(tyres=True), people[Role.FLEET_MANAGER]
    said = {"kind": "registration", "number": "S491", "expires_on": (at + 400 * DAY).date()}
    paper = record_document(cart=cart, conditions=f" {WORDS} ", by=manager, at=at, **said)
    assert paper.conditions == WORDS
    assert WORDS in text_of(sign_in(manager).get(reverse("fleet:cart_detail", args=[cart.pk])))
    sealed = paper_of(valid_certificate(ready_line(hand=hand, at=at, cart=cart)))
    assert f"Registration: {WORDS}" in [limit.what for limit in sealed.limits]
    assert f"Conditions: {WORDS}" in [one.note for one in sealed.documents]
    # The same paper without them is another paper, and which of two alike counts is the later one.
    assert record_document(cart=cart, by=manager, at=at + DAY, **said) != paper
    assert limits_of(cart) == []
