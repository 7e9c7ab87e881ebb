"""A customer's people with a phone and no account: a breakdown and its swap, the papers and the off-hire."""

import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Locator, expect

from tests.journeys.visitor import Visitor
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

# Both out on hire in the demo, with days to go; no other journey has them.
BREAKS = "WC-01"
COMES_HOME = "WC-15"
# In the yard, promised to nobody.
TAKES_ITS_PLACE = "WC-19"


def hire_of(dot: Visitor, cart: str) -> str:
    dot.open("/hire/")
    row = dot.page.get_by_role("row").filter(has_text=cart).first
    row.locator("a[href^='/hire/']").first.click()
    return dot.page.url


def link_for(dot: Visitor, who: str) -> str:
    dot.follow("Make a link")
    dot.page.get_by_label("Who is it for").fill(who)
    dot.page.locator("main form button").last.click()
    return dot.page.get_by_label("Customer link").input_value()


def test_a_breakdown_from_the_phone_is_a_defect_at_once_and_the_cart_is_swapped(
    visit: Callable[..., Visitor],
) -> None:
    dot = visit("dot")
    line = hire_of(dot, BREAKS)
    customer = visit(None, "phone")
    customer.open(link_for(dot, "Aoife Merrin"))
    customer.finds_nothing_wrong()
    link = customer.page.url
    report_it(customer)
    dot.open(line)
    dot.sees("Bang under the floor, pump stopped")
    dot.follow("Open the defect")
    dot.sees("do not use")
    dot.sees("Taken in")
    dot.open(line)
    swap_it(dot)
    customer.open(link)
    expect(customer.page.get_by_role("heading", level=1)).to_contain_text(TAKES_ITS_PLACE)
    customer.sees(f"{BREAKS} was swapped")
    customer.finds_nothing_wrong()


def report_it(customer: Visitor) -> None:
    customer.follow("Report it here too")
    customer.finds_nothing_wrong()
    page = customer.page
    page.get_by_label("What happened").fill("Bang under the floor, pump stopped")
    page.get_by_label("The number we ring back").fill("08 5550 0171")
    with customer.refused_with(422):
        customer.press("Tell the yard")
        customer.sees("Say whether it can be driven. In doubt, no.")
        expect(page.get_by_label("What happened")).to_have_value("Bang under the floor, pump stopped")
    page.get_by_label("No, or we are not sure").check()
    photo = {"name": "IMG_0007.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(seed=23)}
    page.locator("input[type=file]").set_input_files(photo)  # type: ignore[arg-type]
    customer.press("Tell the yard")
    customer.sees("Leave the cart where it stands, park brake on, wheels chocked.")
    customer.finds_nothing_wrong()


def swap_it(dot: Visitor) -> None:
    dot.follow("Swap a broken cart")
    dot.finds_nothing_wrong()
    offered = dot.page.get_by_label("Swap it for")
    offered.select_option(
        value=offered.locator("option").filter(has_text=f"{TAKES_ITS_PLACE}, ").get_attribute("value")
    )
    dot.page.get_by_label("What is broken").fill("Pump shaft sheared")
    dot.page.get_by_label("Keys until then").fill("With the grader driver")
    dot.press(f"Swap {BREAKS}")
    dot.sees(f"{TAKES_ITS_PLACE} takes the place of {BREAKS}.")
    dot.finds_nothing_wrong()


def test_the_papers_are_saved_and_proven_and_the_cart_called_off(
    visit: Callable[..., Visitor], tmp_path: Path
) -> None:
    dot = visit("dot")
    line = hire_of(dot, COMES_HOME)
    customer = visit(None, "phone")
    customer.open(link_for(dot, "Col Brandt"))
    link = customer.page.url
    file = saved(customer, customer.page.get_by_role("link", name=re.compile("^Download ")).last, tmp_path)
    customer.page.get_by_role("link", name=re.compile("verify page")).click()
    customer.sees(hashlib.sha256(file).hexdigest())
    customer.finds_nothing_wrong()
    customer.open(link)
    customer.follow("Ask to off-hire")
    with customer.refused_with(422):
        customer.press("Off-hire it now")
        customer.finds_nothing_wrong()
    customer.page.get_by_label("Where the keys are").fill("On the hook in the site hut")
    customer.press("Off-hire it now")
    number = customer.page.locator("main").get_by_text(re.compile(r"^Off-hire O\d{4}-\d{5}$")).inner_text()
    customer.finds_nothing_wrong()
    expect(customer.page.get_by_role("link", name="Ask to off-hire")).to_have_count(0)
    dot.open(line)
    dot.sees(number)
    dot.sees("Called by Col Brandt, by the customer’s link")
    dot.follow("It has left the site")
    dot.page.locator("main form button").last.click()
    dot.finds_nothing_wrong()


def saved(customer: Visitor, link: Locator, folder: Path) -> bytes:
    with customer.page.expect_download() as download:
        link.click()
    download.value.save_as(folder / "paper.pdf")
    return (folder / "paper.pdf").read_bytes()
