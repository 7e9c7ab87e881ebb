"""A tablet that several people use, through a shift: enrolled, changed over by PIN, taken by name where there is no signal,
and the gate asks until the PIN has confirmed the name."""

from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, expect

from config.demo.yard import PINS
from tests.faults.proxy import Road, road_to
from tests.journeys.visitor import Visitor
from tests.journeys.walk import Walk

pytestmark = pytest.mark.journey

# The demo's cart that goes tomorrow with its limit; it wants its gate-out check.
CART = "WC-21"
METERS = {"engine-hours": "9100.5", "pump-hours": "4100", "odometer": "201300"}
NAMES = {"wes": "Wes Tonkin", "ruby": "Ruby Anselm"}


@pytest.fixture
def wash_bay(chromium: Browser, address: str) -> Iterator[tuple[Visitor, Road]]:
    """A tablet of its own road to the yard, which can be dug up."""
    yard = urlsplit(address)
    assert yard.hostname
    assert yard.port
    with road_to(yard.hostname, yard.port) as (end, road):
        tablet = Visitor(chromium, end, "tablet")
        yield tablet, road
        # The browser complains of the road; of nothing else.
        complaints = [said for said in tablet.complaints if "net::ERR" not in said]
        tablet.close()
    assert complaints == []


def test_a_shift_on_a_shared_tablet(visit: Callable[..., Visitor], wash_bay: tuple[Visitor, Road]) -> None:
    tablet, road = wash_bay
    noor_enrols(tablet)
    both_sign_in(tablet)
    for who in ("wes", "ruby"):
        change_over(tablet, who)
        enter_pin(tablet, PINS[who], "Take the tablet")
        tablet.sees(f"{NAMES[who]} has this tablet.")
    walk = Walk(tablet, CART, METERS)
    tablet.sees("This page opens without a signal.")
    road.dig("closed")
    wes_takes_it_by_name(tablet)
    wes_signs(tablet, walk)
    road.dig("open")
    tablet.press("Send now")
    tablet.sees("Wes Tonkin: name not yet confirmed.")
    tablet.finds_nothing_wrong()
    dot = visit("dot")
    handover = f"/hire/{walk.cart['hire']['line']}/handover/"
    the_gate_asks(dot, handover)
    wes_confirms(tablet)
    dot.open(handover)
    dot.sees_not("has not confirmed")
    noor_ends_it(visit("noor"), tablet)


def noor_enrols(tablet: Visitor) -> None:
    tablet.sign_in("noor")
    tablet.page.locator("summary", has_text="More").click()
    tablet.follow("Tablets")
    tablet.finds_nothing_wrong()
    tablet.page.get_by_label("What this tablet is called").fill("Wash bay")
    tablet.press("Enrol this tablet")
    tablet.sees("This is now the Wash bay tablet, and you are signed out of it.")
    tablet.finds_nothing_wrong()


def both_sign_in(tablet: Visitor) -> None:
    tablet.sign_in("wes")
    tablet.open("/my-pin/")
    tablet.sees("You have a PIN, set")
    tablet.finds_nothing_wrong()
    tablet.press("Sign out")
    tablet.sign_in("ruby")
    tablet.sees("Ruby Anselm has this tablet.")


def change_over(tablet: Visitor, who: str) -> None:
    tablet.press("Change over")
    expect(tablet.page.get_by_role("heading", name="Who has this tablet now?")).to_be_visible()
    tablet.finds_nothing_wrong()
    tablet.press(NAMES[who])


def enter_pin(tablet: Visitor, pin: str, button: str) -> None:
    pad = tablet.page.locator(".pin-pad")
    expect(pad).to_be_visible()
    tablet.finds_nothing_wrong()
    for digit in pin:
        pad.get_by_role("button", name=digit, exact=True).click()
    tablet.press(button)


def wes_takes_it_by_name(tablet: Visitor) -> None:
    """And a cold start with no signal still knows it."""
    change_over(tablet, "wes")
    tablet.sees("No signal: your name is noted now and confirmed with your PIN when the signal is back.")
    tablet.page.reload()
    tablet.sees("Wes Tonkin has this tablet.")
    tablet.sees("Taken by name, with no signal: not yet confirmed.")
    tablet.finds_nothing_wrong()


def wes_signs(tablet: Visitor, walk: Walk) -> None:
    tablet.page.evaluate("(id) => { location.hash = `cart=${id}`; }", walk.cart["id"])
    walk.begin("gate_out")
    assert walk.answer_all() > 10
    walk.go_and_sign()
    tablet.press("Type my name")
    tablet.page.get_by_label("Type your name, Wes Tonkin").fill("Wes Tonkin")
    tablet.press("Sign and send")
    expect(tablet.page.get_by_role("heading", name="Not sent yet")).to_be_visible()
    tablet.press("Next cart")


def the_gate_asks(dot: Visitor, handover: str) -> None:
    dot.open(handover)
    dot.sees("Wes Tonkin has not confirmed having signed the gate-out check")
    dot.sees("Wes Tonkin: sign in and press “This was me”, or give the PIN on the tablet.")
    dot.finds_nothing_wrong()


def wes_confirms(tablet: Visitor) -> None:
    tablet.press("Confirm with PIN", exact=False)
    with tablet.refused_with(422):
        enter_pin(tablet, PINS["ruby"], "This was me")
        tablet.sees("That is not the PIN of Wes Tonkin. Try again.")
    enter_pin(tablet, PINS["wes"], "This was me")
    tablet.sees(f"Wes Tonkin’s name under the gate-out check of {CART} is confirmed.")
    tablet.finds_nothing_wrong()


def noor_ends_it(noor: Visitor, tablet: Visitor) -> None:
    noor.page.locator("summary", has_text="More").click()
    noor.follow("Tablets")
    noor.finds_nothing_wrong()
    noor.press("End the Wash bay tablet")
    noor.sees("The Wash bay tablet is ended: nobody is signed in on it and no PIN counts there.")
    with tablet.refused_with(401):
        tablet.open("/check/")
        tablet.sees("You are signed out.")
