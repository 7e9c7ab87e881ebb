"""The gate's other way: a cart is left where it works, nobody is there to sign, and photos stand in for a signature."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from tests.inspections.certificate_files import pages_of
from tests.journeys.visitor import Visitor
from tests.journeys.walk import Walk
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

# The demo's cart that is fit for today's hire and has its certificate; it wants its gate-out check only.
CART = "WC-11"
METERS = {"engine-hours": "6530.5", "pump-hours": "3170", "odometer": "111300"}
TYPED = {
    "Where it was handed over": "Callabar pit, hardstand by the fill point",
    "Keys": "In the lock box on the site office",
    "Condition as it leaves": "Washed, tank empty, old scrape on the left guard.",
    "What goes with it": "Standpipe SP-14\nHydrant key",
}
FUEL = "7"


def test_a_cart_is_left_where_nobody_is_present(visit: Callable[..., Visitor]) -> None:
    ruby = visit("ruby", "tablet")
    walk_it_out(ruby)
    ruby.follow(f"Hand over {CART}")
    certificate = ruby.page.locator("main p").filter(has_text="On certificate").locator("b").inner_text()
    fill_in(ruby.page.locator("main form"))
    ruby.finds_nothing_wrong()
    without_photos_it_stays(ruby)
    with_photos_it_goes(ruby, certificate)
    the_receipt_says_so(ruby, certificate)


def walk_it_out(ruby: Visitor) -> None:
    """Its gate-out check is signed, and from the cart's page the way leads to its hire."""
    walk = Walk(ruby, CART, METERS)
    ruby.open(f"/check/#cart={walk.cart['id']}")
    walk.begin("gate_out")
    assert 12 <= walk.answer_all() <= 15
    walk.sign_by_typing("Ruby Anselm")
    expect(ruby.page.get_by_role("heading", level=1)).not_to_have_text("Held")
    ruby.finds_nothing_wrong()
    ruby.open(f"/carts/{walk.cart['id']}/")
    promised = ruby.page.get_by_role("row").filter(has_text="promised").get_by_role("link")
    promised.first.click()
    ruby.sees("Pre-start book")
    ruby.sees_not("What’s stopping it")
    ruby.finds_nothing_wrong()


def fill_in(form: Locator) -> None:
    form.get_by_label("Left, nobody present").check()
    form.get_by_label("Fuel, eighths").select_option(FUEL)
    for label, words in TYPED.items():
        form.get_by_label(label).fill(words)


def without_photos_it_stays(ruby: Visitor) -> None:
    with ruby.refused_with(422):
        ruby.press(f"Let {CART} leave")
        ruby.sees(f"Photos: Photograph {CART} where it stands: nobody is there to sign for it.")
    expect(ruby.page.get_by_role("alert")).to_be_focused()
    form = ruby.page.locator("main form")
    expect(form.get_by_label("Left, nobody present")).to_be_checked()
    expect(form.get_by_label("Fuel, eighths")).to_have_value(FUEL)
    for label, words in TYPED.items():
        expect(form.get_by_label(label)).to_have_value(words)
    ruby.finds_nothing_wrong()


def with_photos_it_goes(ruby: Visitor, certificate: str) -> None:
    photos: Any = [
        {
            "name": f"IMG_07{seed}.jpg",
            "mimeType": "image/jpeg",
            "buffer": camera_jpeg(width=1512, height=2016, orientation=6, seed=seed),
        }
        for seed in (31, 32)
    ]
    ruby.page.get_by_label("Photos").set_input_files(photos)
    ruby.press(f"Let {CART} leave")
    ruby.sees(f"{CART} has left. The receipt is issued.")
    ruby.sees(f"on {certificate}. Left, nobody present.")
    ruby.finds_nothing_wrong()


def the_receipt_says_so(ruby: Visitor, certificate: str) -> None:
    hire = ruby.page.url
    row = ruby.page.get_by_role("row").filter(has_text="receipt")
    download = row.get_by_role("link", name=re.compile("^Download "))
    ruby.awaits(hire, lambda: download.count() == 1)
    with ruby.page.expect_download() as coming:
        download.click()
    printed = " ".join(pages_of(Path(coming.value.path()).read_bytes()))
    row.get_by_role("rowheader").get_by_role("link").click()
    for words in (
        "Left, nobody present",
        "No customer’s signature: nobody was present.",
        f"On certificate {certificate}, revision 1",
        "Ruby Anselm, Yard hand",
        TYPED["Where it was handed over"],
        TYPED["Keys"],
        "Standpipe SP-14",
        "photos 1 and 2",
    ):
        ruby.sees(words)
        assert words in printed
    ruby.finds_nothing_wrong()
