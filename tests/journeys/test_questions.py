"""A walk-round that leaves a question open: a manager meets it, opens its working, and puts it to rest in words."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Locator, expect

from tests.journeys.visitor import Visitor

pytestmark = pytest.mark.journey

# The demo's cart whose pre-start was walked in a fifth of its minutes.
CART = "WC-20"
QUESTION = "Were these looked at one by one?"
FOUND_OUT = "Asked Ruby: she had walked it with the fitter just before."


def test_a_question_is_met_and_put_to_rest_by_a_manager(visit: Callable[..., Visitor]) -> None:
    bruna, noor = visit("bruna"), visit("noor", "phone")
    for manager in (bruna, noor):
        manager.open("/walk-rounds/")
        manager.follow("Questions worth asking")
        page_on_to(manager)
        manager.finds_nothing_wrong()
    asked_about(bruna).first.click()
    bruna.sees("Only managers see these.")
    bruna.page.get_by_text("Show the working").click()
    expect(bruna.page.get_by_text("The sheet reckons", exact=True)).to_be_visible()
    bruna.finds_nothing_wrong()
    walk_round = bruna.page.url
    bruna.page.get_by_role("link", name="Put it to rest").click()
    with bruna.refused_with(422):
        bruna.press("Put it to rest")
        bruna.sees("Not filled in yet.")
    bruna.finds_nothing_wrong()
    bruna.page.get_by_label("What you found out").fill(FOUND_OUT)
    bruna.press("Put it to rest")
    bruna.sees(FOUND_OUT)
    noor.open(walk_round)
    noor.sees(FOUND_OUT)
    noor.finds_nothing_wrong()
    ruby = visit("ruby", "tablet")
    ruby.open(walk_round)
    ruby.sees("Every answer")
    ruby.sees_not("Questions worth asking")
    ruby.sees_not(FOUND_OUT)


def asked_about(manager: Visitor) -> Locator:
    return manager.page.get_by_role("row").filter(has_text=QUESTION).get_by_role("link", name=CART)


def page_on_to(manager: Visitor) -> None:
    """Past the walk-rounds of a busy day: the other journeys sign a hundred of them."""
    while not asked_about(manager).count():
        with manager.page.expect_navigation():
            manager.follow("Next page")
