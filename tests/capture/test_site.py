"""A customer's person on site with a phone: one cart, its pre-start, and nothing of the yard's."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.capture.standin import Yard
from tests.capture.tablet import SIZES, Tablet

pytestmark = pytest.mark.journey

HIRE = "3f0c5a52-6a0e-4a55-9d0c-6b1f8f6f1a01"


def on_hire(yard: Yard) -> None:
    """The yard as a customer's person has it: one cart, on hire."""
    yard.hire = HIRE
    (cart,) = [one for one in yard.reference["carts"] if one["fleet_number"] == "WC 07"]
    cart["sheets"] = {"daily": cart["sheets"]["gate_out"]}
    cart["purposes_due"] = ["daily"]
    yard.reference["carts"] = [cart]
    yard.reference["person"] = {
        "id": "7d5a7b1e-1d2f-4a35-8a37-0c8c7b6d3c11",
        "name": "Jo Field",
        "role": "site",
    }
    yard.reference["site"] = {
        "yard": "Saltbush Carts",
        "on_call": "08 5550 0142",
        "customer": "Redgum Civil",
        "is_over": False,
    }


@pytest.fixture
def phone(page: Page, served: tuple[str, Yard]) -> Iterator[Tablet]:
    """A phone in a hand on site, for one hire, not yet at any page."""
    address, yard = served
    page.set_viewport_size(SIZES["phone"])
    on_hire(yard)
    phone = Tablet(page, address)
    yield phone
    assert phone.stumbles == []


def walk(phone: Tablet) -> None:
    phone.open(f"?hire={HIRE}")
    phone.tap("Daily pre-start", exact=False)
    phone.tap("Start: ", exact=False)
    phone.at("Wheel nuts")
    phone.tap("Good")
    phone.measure("8")
    phone.tap("Start: Seat and start")
    phone.tap("Good")
    phone.at("Check your answers")


def test_the_first_screen_is_the_one_cart(phone: Tablet) -> None:
    phone.open(f"?hire={HIRE}")
    phone.at("WC 07")
    phone.see("Jo Field, Redgum Civil. From Saltbush Carts")
    expect(phone.page.get_by_role("link", name="Ring the yard")).to_have_attribute("href", "tel:0855500142")
    expect(phone.page.get_by_role("link", name="Slake’s other pages")).to_have_count(0)
    assert phone.accessibility_faults() == []
    assert phone.hidden_below_px()[0] == 0


def test_a_pre_start_arrives_under_their_own_name(phone: Tablet, yard: Yard) -> None:
    walk(phone)
    phone.sign("Jo Field")
    phone.see("The yard received it")
    phone.see("left only on this phone")
    expect(phone.page.get_by_role("link", name="See the record")).to_have_count(0)
    record = yard.record()
    assert (record["purpose"], record["author"]) == (
        "daily",
        {"id": "7d5a7b1e-1d2f-4a35-8a37-0c8c7b6d3c11", "name": "Jo Field", "how": "sign_in"},
    )
    phone.tap("Back to the cart")
    phone.at("WC 07")


def test_a_held_cart_says_whom_to_ring(phone: Tablet, yard: Yard) -> None:
    yard.judgement = {"outcome": "held", "headline": "WC 07 stays where it is.", "reasons": []}
    walk(phone)
    phone.sign("Jo Field")
    phone.see("Leave the cart where it stands, take the key out and ring the yard.")
    expect(phone.page.get_by_role("link", name="Ring the yard")).to_be_visible()


def test_what_is_kept_for_a_hire_is_not_seen_by_the_yard(phone: Tablet, yard: Yard) -> None:
    walk(phone)
    yard.hire = ""
    phone.open()
    phone.at("Carts today")
    expect(phone.page.get_by_text("Carry on")).to_have_count(0)
    yard.hire = HIRE
    phone.open(f"?hire={HIRE}")
    phone.see("Carry on")


def test_a_shut_door_says_how_it_opens_and_loses_nothing(phone: Tablet, yard: Yard) -> None:
    walk(phone)
    yard.hire = "another"
    phone.sign("Jo Field")
    phone.see("Open the yard’s link again, or scan the plate on the cart")
    expect(phone.page.get_by_role("link", name="Sign in")).to_have_count(0)
    yard.hire = HIRE
    phone.tap("Send now")
    phone.see("The yard received it")
    assert yard.record()["purpose"] == "daily"


def test_a_stranger_is_told_how_the_door_opens(phone: Tablet, yard: Yard) -> None:
    yard.hire = "another"
    phone.open(f"?hire={HIRE}")
    phone.see("Open the yard’s link again, or scan the plate on the cart")
    expect(phone.page.get_by_role("link", name="Sign in")).to_have_count(0)


def test_a_hire_that_is_over_shows_no_cart(phone: Tablet, yard: Yard) -> None:
    yard.reference["site"]["is_over"] = True
    yard.reference["carts"] = []
    phone.open(f"?hire={HIRE}")
    phone.at("This hire is over")
    phone.see("What was signed here still goes to the yard.")


def test_the_page_of_a_hire_goes_on_the_home_screen_as_that_hire(phone: Tablet) -> None:
    phone.open(f"?hire={HIRE}")
    phone.at("WC 07")
    expect(phone.page.locator("link[rel=manifest]")).to_have_attribute(
        "href", f"/check/{HIRE}/slake.webmanifest"
    )


def test_an_address_that_names_no_hire_is_the_yards(phone: Tablet, yard: Yard) -> None:
    yard.hire = ""
    phone.open("?hire=../../etc")
    phone.at("Carts today")
