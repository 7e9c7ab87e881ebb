"""Upper apps show their part on a cart's page, in order; one that fails takes nothing else with it."""

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from fleet import panels
from fleet.panels import panels_of, register_panel
from people.roles import Role
from tests.factories.fleet import CartFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def registry(monkeypatch):
    monkeypatch.setattr(panels, "_panels", {})


def hires(cart, at):
    return {"title": f"Hires of {cart.fleet_number}"}


def nothing(cart, at):
    return None


def broken(cart, at):
    with connection.cursor() as cursor:
        cursor.execute("SELECT no_such_column")


def test_panels_come_in_order_and_those_with_nothing_stay_away():
    cart, at = CartFactory(), timezone.now()
    register_panel("late", 90, hires, "late.html")
    register_panel("empty", 1, nothing, "empty.html")
    register_panel("early", 10, hires, "early.html")
    shown = panels_of(cart, at=at)
    assert [(one.name, one.template) for one in shown] == [("early", "early.html"), ("late", "late.html")]
    assert shown[0].panel == {"title": f"Hires of {cart.fleet_number}"}


def test_a_name_has_one_panel_and_the_same_may_be_told_again():
    register_panel("hires", 10, hires, "a.html")
    register_panel("hires", 10, hires, "a.html")
    with pytest.raises(ValueError, match="already has a panel named 'hires'"):
        register_panel("hires", 20, hires, "a.html")


def test_a_panel_that_fails_says_so_and_the_page_stands(people, sign_in, caplog):
    cart = CartFactory(fleet_number="WC-47")
    register_panel("hires", 10, broken, "no_such_template.html")
    answer = sign_in(people[Role.HIRE_DESK]).get(reverse("fleet:cart_detail", args=[cart.pk]))
    body = " ".join(answer.content.decode().split())
    assert answer.status_code == 200
    assert "These records (hires) did not answer." in body
    assert "Where it is" in body
    assert "panels.failed" in caplog.text
