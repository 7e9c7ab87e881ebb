"""After hours: a driver collects a cart by a link, walks its gate-out check with no signal, is told it may leave, and leaves."""

from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.faults.proxy import road_to
from tests.journeys.test_on_site import SHELL_PATIENCE_MS
from tests.journeys.visitor import Visitor
from tests.journeys.walk import Walk
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

# In the demo it leaves tomorrow, walked and certified, with its cannon isolated and no gate-out check yet.
CART = "WC-21"
METERS = {"engine-hours": "9000", "odometer": "350000"}
SIDES = ("front", "right_side", "rear", "left_side")


def line_of(dot: Visitor) -> str:
    """The address of the hire the cart leaves on."""
    dot.open("/hire/")
    row = dot.page.get_by_role("row").filter(has_text=CART).first
    address = row.get_by_role("link").evaluate_all(
        "(links) => links.map((one) => one.href).find((href) => /hire.[0-9a-f-]{36}.$/.test(href))"
    )
    assert address
    return str(address)


def given_a_link(dot: Visitor, line: str) -> str:
    dot.open(f"{line}collect/")
    dot.finds_nothing_wrong()
    dot.page.get_by_label("Who collects it").fill("Jo Field")
    dot.page.get_by_label("The customer").check()
    dot.page.get_by_label("Driver’s phone").fill("0400 550 118")
    dot.press("Give the link")
    dot.finds_nothing_wrong()
    return urlsplit(dot.page.get_by_label("Collection link").input_value()).path


def test_a_driver_collects_a_cart_with_nobody_there(visit: Callable[..., Visitor], address: str) -> None:
    dot = visit("dot")
    line = line_of(dot)
    link, yard = given_a_link(dot, line), urlsplit(address)
    assert yard.hostname
    assert yard.port
    with road_to(yard.hostname, yard.port) as (end, road):
        jo = visit(None, "phone")
        jo.address = end
        jo.open(link)
        jo.sees("Where it stands")
        jo.finds_nothing_wrong()
        jo.press("I am Jo Field: start the check")
        expect(jo.page.get_by_role("heading", level=1)).to_have_text(CART)
        assert link.split("/")[2] not in jo.page.url
        shell = jo.page.locator("#page")
        expect(shell).to_contain_text("This page opens without a signal.", timeout=SHELL_PATIENCE_MS)
        jo.finds_nothing_wrong()
        walk = Walk(jo, CART, METERS, hire=jo.page.url.split("hire=")[1].split("#")[0])
        road.dig("closed")
        with jo.without_signal():
            jo.page.reload()
            walks_and_signs(jo, walk)
            road.dig("open")
            jo.page.reload()
            expect(jo.page.locator("#page")).to_contain_text(
                "Every point is sound", timeout=SHELL_PATIENCE_MS
            )
        jo.finds_nothing_wrong()
        jo.follow("May it leave?")
        leaves(jo)
        jo.page.close()
    dot.open(line)
    dot.sees("Taken over by Jo Field")
    dot.sees("The cart has left.")


def walks_and_signs(jo: Visitor, walk: Walk) -> None:
    walk.begin("gate_out")
    screen = jo.page.locator("#page")
    jo.page.locator(".main-choice").click()
    screen.locator("button.answer-wrong").click()
    # At once, and before anything of it is kept.
    expect(screen).to_contain_text("Do not leave.")
    expect(screen.locator("a[href^='tel:']")).to_be_visible()
    # On a phone the foot lies over what is scrolled under it.
    jo.page.evaluate("scrollTo(0, document.body.scrollHeight)")
    jo.finds_nothing_wrong()
    jo.press("Back")
    assert 12 <= walk.answer_all() <= 15
    expect(screen).not_to_contain_text("Do not leave.")
    walk.go_and_sign()
    jo.page.locator("#way-typed").click()
    jo.page.locator("#signed-name").fill("Jo Field")
    jo.press("Sign and send")
    expect(screen).to_contain_text("on this phone until the yard has it")


def leaves(jo: Visitor) -> None:
    jo.sees("It may leave,")
    jo.finds_nothing_wrong()
    for seed, side in enumerate(SIDES, start=40):
        picture = {"name": f"{side}.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=seed)}
        jo.page.locator(f"input[name=side_{side}]").set_input_files(picture)  # type: ignore[arg-type]
    jo.page.locator("select[name=fuel_eighths]").select_option("6")
    jo.page.locator("input[name=condition_words]").fill("None")
    jo.page.locator("input[name=limits_accepted]").check()
    jo.page.locator("input[name=signed_name]").fill("Jo Field")
    jo.press("I am leaving now")
    jo.sees("You left with it")
    jo.finds_nothing_wrong()
