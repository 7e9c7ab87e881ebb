"""On a customer's site: the driver opens the pre-start from a link or from the plate, walks with no signal, and the yard has it."""

import re
from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.faults.proxy import road_to
from tests.journeys.visitor import Visitor
from tests.journeys.walk import Finding, Walk
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

# Out on hire in the demo, with a fortnight to go.
CART = "WC-17"
METERS = {"engine-hours": "9000", "pump-hours": "4000", "odometer": "200000"}
FOUND = "Cracked in its lower corner, dust in the crack"
SHELL_PATIENCE_MS = 90_000


def line_of(dot: Visitor) -> str:
    """The address of the hire the cart is out on."""
    dot.open("/hire/")
    row = dot.page.get_by_role("row").filter(has_text=CART).first
    address = row.get_by_role("link").evaluate_all(
        "(links) => links.map((one) => one.href).find((href) => /hire.[0-9a-f-]{36}.$/.test(href))"
    )
    assert address
    return str(address)


def test_a_driver_walks_from_the_link_with_no_signal(visit: Callable[..., Visitor], address: str) -> None:
    dot = visit("dot")
    line = line_of(dot)
    dot.open(f"{line}link/")
    dot.page.get_by_label("Who is it for").fill("Jo Field")
    dot.page.locator("main form button").last.click()
    link = urlsplit(dot.page.get_by_label("Customer link").input_value()).path
    yard = urlsplit(address)
    assert yard.hostname
    assert yard.port
    with road_to(yard.hostname, yard.port) as (end, road):
        jo = visit(None, "phone")
        jo.address = end
        jo.open(link)
        jo.finds_nothing_wrong()
        jo.page.get_by_label("Your name").fill("Jo Field")
        jo.press("Do the pre-start on this phone")
        expect(jo.page.get_by_role("heading", level=1)).to_have_text(CART)
        assert link.split("/")[2] not in jo.page.url
        expect(jo.page.locator("#page")).to_contain_text(
            "This page opens without a signal.", timeout=SHELL_PATIENCE_MS
        )
        jo.finds_nothing_wrong()
        walk = Walk(jo, CART, METERS, hire=jo.page.url.split("hire=")[1].split("#")[0])
        road.dig("closed")
        with jo.without_signal():
            jo.page.reload()
            walks_and_signs(jo, walk)
            road.dig("open")
            jo.page.reload()
            received = jo.page.locator("#page")
            expect(received).to_contain_text("The yard received it", timeout=SHELL_PATIENCE_MS)
        jo.finds_nothing_wrong()
        jo.page.close()
    the_yard_has_it(visit, line)


def walks_and_signs(jo: Visitor, walk: Walk) -> None:
    expect(jo.page.get_by_role("heading", level=1)).to_have_text(CART)
    walk.begin("daily")
    checks = walk.reference["checks"]
    looked_at = next(item["check"] for item in walk.items[4:] if checks[item["check"]]["answer"] == "sound")
    found = Finding(looked_at, "watch", FOUND, camera_jpeg(seed=7))
    assert 26 <= walk.answer_all(found) <= 35
    walk.go_and_sign()
    jo.page.locator("#way-typed").click()
    jo.page.locator("#signed-name").fill("Jo Field")
    jo.press("Sign and send")
    expect(jo.page.locator("#page")).to_contain_text("on this phone until the yard has it")


def the_yard_has_it(visit: Callable[..., Visitor], line: str) -> None:
    dot = visit("dot")
    dot.open("/walk-rounds/?purpose=daily")
    row = dot.page.get_by_role("row").filter(has_text=CART).filter(has_text="Jo Field").first
    row.get_by_role("link").first.click()
    dot.sees("Jo Field")
    dot.sees(FOUND)
    dot.finds_nothing_wrong()
    dot.open(line)
    dot.sees("Jo Field")
    dot.finds_nothing_wrong()


def test_the_plate_alone_opens_nothing_and_the_site_code_does(visit: Callable[..., Visitor]) -> None:
    dot = visit("dot")
    line = line_of(dot)
    dot.open(line)
    dot.page.get_by_role("button", name=re.compile("^Make a (new )?site code$")).click()
    code = dot.page.locator("main .identity-number").inner_text()
    plate = re.search(r"/plate/[^/\s]+/", dot.page.locator("main").inner_text())
    assert plate
    dot.finds_nothing_wrong()

    sam = visit(None, "phone")
    sam.open(plate.group())
    sam.sees("Who are you?")
    sam.finds_nothing_wrong()
    with sam.refused_with(422):
        sam.page.get_by_label("Your name").fill("Sam Reef")
        sam.page.get_by_label("Site code").fill("AAAA-AAAA")
        sam.press("Open the pre-start")
        expect(sam.page.get_by_label("Your name")).to_have_value("Sam Reef")
        sam.finds_nothing_wrong()
    sam.page.get_by_label("Site code").fill(code)
    sam.press("Open the pre-start")
    expect(sam.page.get_by_role("heading", level=1)).to_have_text(CART)
    sam.finds_nothing_wrong()
    dot.open(line)
    dot.sees("Sam Reef")
    dot.page.get_by_role("button", name="End the pre-start on the phone of Sam Reef").first.click()
    with sam.refused_with(401):
        sam.press("Fetch again")
        expect(sam.page.locator("#page")).to_contain_text("The yard’s door to this hire is shut")
    sam.finds_nothing_wrong()
