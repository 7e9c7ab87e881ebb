"""The real page, the real yard, and a road between them that breaks: nothing that was confirmed is lost, nothing comes twice.

A ledger outside the browser notes every answer the page confirmed. When the road is whole again every one of them must be
with the yard, byte for byte as it was signed. FAULT_RUNS says how many seeds are played; FAULT_SEED plays one again.
"""

import hashlib
import io
import json
import os
import random
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser, expect

from tests.faults.proxy import Road, road_to
from tests.faults.tablet import KnockedTablet
from tests.journeys.walk import Finding, Walk

pytestmark = pytest.mark.journey

CART = "WC-22"
PHOTO_BYTES = 200_000
# Where the road breaks while the record is on its way: to the yard (in its body) or back (after the yard has it).
BREAKS = (
    ("closed", 0),
    ("silent", 0),
    ("slow", 0),
    ("cut_there", 0),
    ("cut_there", 1),
    ("cut_there", 700),
    ("cut_there", PHOTO_BYTES // 2),
    ("cut_there", PHOTO_BYTES + 2_000),
    ("cut_back", 0),
    ("cut_back", 1),
    ("cut_back", 400),
    ("cut_back", 2_000),
)
KNOCKS = ("close_tab", "knock_dead", "nothing")
SEEDS = (
    [int(os.environ["FAULT_SEED"])]
    if "FAULT_SEED" in os.environ
    else range(int(os.environ.get("FAULT_RUNS", "15")))
)


@pytest.fixture
def road(address: str) -> Iterator[tuple[str, Road]]:
    yard = urlsplit(address)
    assert yard.hostname
    assert yard.port
    with road_to(yard.hostname, yard.port) as (end, road):
        yield end, road


@pytest.fixture
def tablet(chromium: Browser, road: tuple[str, Road], tmp_path: Path) -> Iterator[KnockedTablet]:
    tablet = KnockedTablet(chromium, tmp_path / "tablet", road[0])
    tablet.on()
    yield tablet
    tablet.off()


def back_on(tablet: KnockedTablet, knock: str) -> None:
    """The tablet after a knock, at its list of carts."""
    if knock == "knock_dead":
        tablet.knock_dead()
        tablet.on()
    elif knock == "close_tab":
        tablet.close_tab()
    tablet.open()
    expect(tablet.page.get_by_role("heading", name="Carts today")).to_be_visible()


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_confirmed_arrives_once_and_whole(
    tablet: KnockedTablet, road: tuple[str, Road], seed: int
) -> None:
    dice, way = random.Random(seed), road[1]
    tablet.sign_in("wes")
    tablet.sees("This page opens without a signal.", within_ms=90_000)
    walk = Walk(tablet, CART, {"engine-hours": "22000"})  # type: ignore[arg-type]
    before = {parcel["id"] for parcel in tablet.parcels()}

    way.dig("closed")
    back_on(tablet, dice.choice(KNOCKS))
    tablet.page.goto(f"{tablet.address}/check/#cart={walk.cart['id']}")
    walk.page = tablet.page
    walk.begin("gate_out")
    ledger = answered(walk, tablet, dice)

    state, cut_at = BREAKS[seed % len(BREAKS)]
    way.dig(state, cut_at=cut_at)
    walk.go_and_sign()
    walk.page.locator("#way-typed").click()
    walk.page.locator("#signed-name").fill("Wes Tonkin")
    walk.page.get_by_role("button", name="Sign and send", exact=True).click()
    expect(walk.page.locator("#page")).to_have_class("screen-sent")
    walk.page.wait_for_timeout(dice.randint(0, 3_000))
    back_on(tablet, dice.choice(KNOCKS))

    # A browser that was killed may have lost who is signed in; signing in again changes the token besides.
    way.dig("open")
    tablet.sign_in("wes")
    tablet.sees("The yard has everything signed on this tablet.", within_ms=90_000)
    (parcel,) = [one for one in tablet.parcels() if one["id"] not in before]
    sealed = json.loads(parcel["text"])
    assert {one["n"]: one["answer"] for one in sealed["answers"]} == ledger
    held = tablet.page.request.get(f"{tablet.address}/sync/held?id={parcel['id']}").json()["held"]
    assert held == {parcel["id"]: hashlib.sha256(parcel["text"].encode()).hexdigest()}
    assert tablet.stumbles == []


def answered(walk: Walk, tablet: KnockedTablet, dice: random.Random) -> dict[int, str]:
    """Every look answered, one found wrong with a photo, with a knock somewhere; gives what the page confirmed, by number."""
    plain = [
        item["check"] for item in walk.items if walk.reference["checks"][item["check"]]["answer"] == "sound"
    ]
    finding = Finding(dice.choice(plain), "watch", "Rattles", noisy_photo(dice))
    knock_after: int | None = dice.randrange(1, len(walk.items))
    ledger: dict[int, str] = {}
    while True:
        was_found = finding.where
        n = walk.answer_next(finding)
        if n is None:
            return ledger
        ledger[n] = "wrong" if finding.where and not was_found else "good"
        if len(ledger) == knock_after:
            knock_after = None
            back_on(tablet, dice.choice(KNOCKS))
            walk.page = tablet.page
            walk.page.get_by_role("button", name="Carry on: ", exact=False).click()
            # One check back, with every answer that was confirmed.
            expect(walk.page.locator(".bar-title")).to_contain_text(f"{len(ledger)} of {len(walk.items)}")


def noisy_photo(dice: random.Random) -> bytes:
    """A picture that no compression makes small, so that it goes in more than one part."""
    out = io.BytesIO()
    Image.frombytes("L", (900, 700), dice.randbytes(900 * 700)).save(out, "JPEG", quality=95)
    return out.getvalue()
