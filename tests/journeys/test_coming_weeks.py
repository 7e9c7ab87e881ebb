"""The manager's chair: what happens to any cart next and why, a day booked for it, a service recorded, a tyre's working."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.journeys.visitor import Visitor

pytestmark = pytest.mark.journey
CART = "WC-06"


def test_any_cart_says_what_is_next_and_a_day_is_booked_for_it(visit: Callable[..., Visitor]) -> None:
    bruna = visit("bruna")
    bruna.open("/")
    bruna.follow("Coming weeks")
    bruna.finds_nothing_wrong()
    bruna.page.get_by_label("Cart", exact=True).fill(CART)
    bruna.press("Show")
    row = bruna.page.locator(".week")
    expect(row).to_have_count(1)
    expect(row).to_contain_text("250-hour service")
    expect(row.get_by_role("img")).to_have_accessible_name(re.compile("Falls due: .*250-hour service"))
    row.get_by_role("link", name=f"Book {CART}", exact=False).first.click()
    bruna.finds_nothing_wrong()
    bruna.press(f"Book cart {CART}")
    bruna.sees("is booked for")
    bruna.finds_nothing_wrong()

    dot = visit("dot", "tablet")
    dot.open(f"/workshop/weeks/?cart={CART}")
    dot.sees("Booked")
    dot.finds_nothing_wrong()


def test_a_service_opens_to_its_working_and_counts_anew_once_recorded(visit: Callable[..., Visitor]) -> None:
    bruna = visit("bruna")
    bruna.open("/workshop/weeks/?cart=WC-14")
    bruna.follow("250-hour service")
    bruna.sees("of 250 h used")
    bruna.page.get_by_text("Show the working").click()
    bruna.sees("Whichever measure is used up first")
    bruna.finds_nothing_wrong()
    bruna.follow("Record it as done")
    with bruna.refused_with(422):
        bruna.press("Record it on cart WC-14")
        bruna.sees("Read the engine hours on cart WC-14")
    bruna.finds_nothing_wrong()
    bruna.page.get_by_label("Engine hours then").fill("99999")
    with bruna.refused_with(422):
        bruna.press("Record it on cart WC-14")
        bruna.sees("more than the time between allows")
    expect(bruna.page.get_by_label("Engine hours then")).to_have_value("99999")


def test_the_list_of_what_was_last_done_is_filled_in_on_a_tablet(visit: Callable[..., Visitor]) -> None:
    teo = visit("teo", "tablet")
    teo.open("/workshop/services/")
    teo.finds_nothing_wrong()
    teo.page.get_by_role("link", name="Last done, all carts: 250-hour service", exact=False).click()
    teo.sees("Rows left empty are left alone")
    teo.finds_nothing_wrong()
    for number, hours in (("WC-02", "10"), ("WC-04", "99999")):
        teo.page.get_by_label(f"Day, cart {number}", exact=True).fill("2024-03-12")
        teo.page.get_by_label(f"Engine hours, cart {number}", exact=True).fill(hours)
    with teo.refused_with(422):
        teo.press("Record every filled row")
        teo.sees("1 cart does not fit")
    teo.sees("Cart WC-04: 99999 h was read, higher than")
    teo.finds_nothing_wrong()
    expect(teo.page.get_by_label("Engine hours, cart WC-02", exact=True)).to_have_value("10")
    teo.page.get_by_label("Engine hours, cart WC-04", exact=True).fill("20")
    teo.press("Record every filled row")
    teo.sees("The 250-hour service is on record for 2 carts")


def test_a_tyre_shows_its_wear_as_a_picture_with_its_words(visit: Callable[..., Visitor]) -> None:
    isla = visit("isla", "tablet")
    isla.open("/workshop/tyres/")
    isla.finds_nothing_wrong()
    isla.page.get_by_role("link", name="Open the tyre", exact=False).first.click()
    picture = isla.page.locator("img.tyre-wear")
    expect(picture).to_have_js_property("complete", value=True)
    assert picture.evaluate("(image) => image.naturalWidth") > 100
    assert picture.get_attribute("alt")
    isla.finds_nothing_wrong()
