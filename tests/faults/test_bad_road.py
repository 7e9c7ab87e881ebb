"""The real page, the real yard, and a road between them that breaks: nothing that was confirmed is lost, nothing comes twice.

A ledger outside the browser notes every answer the page confirmed. When the road is whole again every one of them must be
with the yard, byte for byte as it was signed. FAULT_RUNS says how many seeds are played; FAULT_SEED plays one again.
"""

import os
import random

import pytest

from tests.faults.ledger import KNOCKS, answered, back_on, is_there_once, sign_and_send
from tests.faults.proxy import Road
from tests.faults.tablet import KnockedTablet
from tests.journeys.walk import Walk

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
SEEDS = (
    [int(os.environ["FAULT_SEED"])]
    if "FAULT_SEED" in os.environ
    else range(int(os.environ.get("FAULT_RUNS", "15")))
)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_confirmed_arrives_once_and_whole(
    tablet: KnockedTablet, road: tuple[str, Road], seed: int
) -> None:
    dice, way = random.Random(seed), road[1]
    tablet.sign_in("wes")
    tablet.sees("This page opens without a signal.", within_ms=90_000)
    walk = Walk(tablet, CART, {"engine-hours": "22000", "odometer": "350000"})  # type: ignore[arg-type]
    before = {parcel["id"] for parcel in tablet.parcels()}

    way.dig("closed")
    back_on(tablet, dice.choice(KNOCKS))
    tablet.page.goto(f"{tablet.address}/check/#cart={walk.cart['id']}")
    walk.page = tablet.page
    walk.begin("gate_out")
    ledger = answered(walk, tablet, dice)

    state, cut_at = BREAKS[seed % len(BREAKS)]
    way.dig(state, cut_at=cut_at)
    sign_and_send(walk)
    walk.page.wait_for_timeout(dice.randint(0, 3_000))
    back_on(tablet, dice.choice(KNOCKS))

    # A browser that was killed may have lost who is signed in; signing in again changes the token besides.
    way.dig("open")
    tablet.sign_in("wes")
    tablet.sees("The yard has everything signed on this tablet.", within_ms=90_000)
    is_there_once(tablet, ledger, before)
    assert tablet.stumbles == []
