"""With no signal at all: the page opens cold, carts are walked and signed, and what waits arrives once the yard is back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.capture.standin import Yard
from tests.capture.tablet import Tablet, camera_jpeg
from tests.capture.tray import Tray

pytestmark = pytest.mark.journey


@pytest.fixture
def tray(browser: Browser, tmp_path: Path, served: tuple[str, Yard]) -> Iterator[Tray]:
    tray = Tray(browser, tmp_path / "tablet", served[0])
    yield tray
    tray.off()


def kept(tablet: Tablet) -> None:
    """Waits until the page says that it opens without a signal."""
    tablet.see("This page opens without a signal.")


def walk_one(tablet: Tablet, cart: str) -> None:
    """A short walk with one fault and its photo, up to the signature."""
    tablet.page.get_by_role("link", name=cart).click()
    tablet.tap("Gate-out check", exact=False)
    tablet.tap("Start: Key-out lap")
    tablet.tap("Something’s wrong")
    tablet.tap("Watch")
    tablet.tap("loose")
    tablet.photograph(camera_jpeg(width=400, height=300))
    tablet.tap("Save what’s wrong")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.sign()


def test_three_carts_are_walked_with_no_yard_and_arrive_once_each(tray: Tray, yard: Yard) -> None:
    tablet = tray.on()
    kept(tablet)
    yard.is_gone = True
    tray.off()

    tablet = tray.on()
    tablet.see("No signal: the yard can’t be reached from here. This list is from")
    for number, cart in enumerate(("WC 07", "WC 12", "WC 07"), start=1):
        walk_one(tablet, cart)
        tablet.at("Not sent yet")
        tablet.see("By your answers alone nothing stops the cart.")
        tablet.tap("Next cart")
        tablet.see(f"{number} signed walk-round{'s' if number > 1 else ''} on this tablet only.")
    tray.off()

    tablet = tray.on()
    tablet.see("3 signed walk-rounds on this tablet only.")
    assert yard.records == {}
    # Nobody presses anything: it goes by itself once the yard is back.
    yard.is_gone = False
    tablet.see("The yard has everything signed on this tablet.")

    assert len(yard.records) == 3
    assert len(yard.puts) == len(set(yard.puts))
    assert tablet.stumbles == []


def test_the_plan_of_the_cart_is_there_too(tray: Tray, yard: Yard) -> None:
    tablet = tray.on()
    kept(tablet)
    tablet.page.wait_for_function(
        """async () => {
            const open = indexedDB.open("slake-yard");
            const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
            const keys = db.transaction("reference").objectStore("reference").getAllKeys();
            const found = await new Promise((done) => { keys.onsuccess = () => done(keys.result); });
            db.close();
            return found.filter((key) => key.startsWith("lap:")).length > 1;
        }"""
    )
    yard.is_gone = True
    tray.off()

    tablet = tray.on()
    tablet.page.get_by_role("link", name="WC 07").click()
    expect(tablet.page.locator(".lap-plan svg")).to_be_visible()


def test_a_page_of_the_yard_is_not_opened_into_nothing(tray: Tray, yard: Yard) -> None:
    tablet = tray.on()
    kept(tablet)
    yard.is_gone = True
    tablet.page.get_by_role("link", name="Slake’s other pages").click()
    tablet.see("That page is with the yard; this one works on.")
    tablet.at("Carts today")


def test_a_network_that_answers_for_the_yard_is_never_kept_as_the_page(tray: Tray, yard: Yard) -> None:
    tablet = tray.on()
    kept(tablet)
    keys = tablet.run("caches.keys()")
    yard.is_portal = True
    tablet.page.reload()
    tablet.at("Carts today")
    tablet.see("Something between here and the yard answered instead of it.")
    assert tablet.run("caches.keys()") == keys
    yard.is_portal = False
    tablet.tap("Fetch again")
    tablet.see("List from the yard")


def test_two_pages_of_one_tablet_show_the_same(tray: Tray) -> None:
    tablet = tray.on()
    kept(tablet)
    assert tray.context
    other = Tablet(tray.context.new_page(), tray.address)
    other.start("Gate-out check")
    other.tap("Good")
    other.at("Tread depth, outer")
    tablet.see("1 walk-round begun.")
    other.measure("8")
    other.tap("Start: Seat and start")
    other.tap("Good")
    other.at("Check your answers")
    other.sign()
    other.at("Right to go")
    tablet.see("The yard has everything signed on this tablet.")
    tablet.see("The yard received it")
