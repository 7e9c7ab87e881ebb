"""How many taps a sound cart costs, from the list of carts to "Sign and send": counted, printed, and never more than now.

The presses of a number pad's keys are counted by themselves: how many there are is up to the value.
"""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.journeys.visitor import Visitor
from tests.journeys.walk import Walk

pytestmark = pytest.mark.journey

CART = "WC-22"
METERS = {"engine-hours": "22000", "pump-hours": "9000", "odometer": "350000", "battery-volts": "12.6"}
# To the cart, to the walk; on from the answers, the way to sign, the name drawn in one stroke, "Sign and send".
BESIDE_THE_CHECKS = 6
# A month and a year are picked before they are kept.
FOR_A_DATE = 2
AIM = 1.25
# Taps that landed: where something moved under the driver's hand it presses once more, and what it held back is no tap. It
# holds back at the window, so the count is kept behind that.
COUNT = """() => {
    window.counted = { taps: 0, keys: 0, on: [] };
    document.addEventListener("click", ({ target }) => {
        counted[target.closest(".number-pad") ? "keys" : "taps"] += 1;
        counted.on.push(target.closest("button, a, canvas")?.innerText || target.tagName);
    }, { capture: true });
}"""


def walk_it(wes: Visitor, purpose: str) -> Walk:
    """From the list to the signature, with nothing wrong and nothing gone back to; it is not sent, since other journeys
    want this cart as it is."""
    walk = Walk(wes, CART, METERS)
    wes.open("/check/")
    wes.page.evaluate(COUNT)
    wes.page.locator(".cart-row", has_text=CART).first.click()
    walk.begin(purpose)
    assert walk.answer_all() == len(walk.items)
    walk.go_and_sign()
    wes.page.locator("#way-drawn").click()
    pad = wes.page.locator(".pad canvas").bounding_box()
    assert pad
    hand = wes.page.mouse
    hand.move(pad["x"] + 60, pad["y"] + 60)
    hand.down()
    hand.move(pad["x"] + 180, pad["y"] + 90, steps=5)
    hand.up()
    expect(wes.page.get_by_role("button", name="Sign and send", exact=True)).to_be_enabled()
    return walk


@pytest.mark.parametrize("purpose", ["pre_hire", "daily", "gate_out"])
def test_a_sound_cart_costs_no_more_taps_than_it_did(
    visit: Callable[..., Visitor], purpose: str, capsys: pytest.CaptureFixture[str]
) -> None:
    wes = visit("wes", "tablet")
    walk = walk_it(wes, purpose)
    checks = [walk.reference["checks"][item["check"]] for item in walk.items]
    parts = len({check["pass"] for check in checks})
    dates = sum(check["answer"] == "date" for check in checks)
    photos = sum(check["photo"] for check in checks)
    counted = wes.page.evaluate("counted")
    # The last tap, which sends it, is counted and not made.
    taps, keys, looks = counted["taps"] + 1, counted["keys"], len(walk.items)
    with capsys.disabled():
        print(
            f"\n{purpose}: taps {taps}, checks {looks}, ratio {taps / looks:.2f} (aim {AIM}); keys beside them {keys}"
        )
    assert taps <= looks + parts + FOR_A_DATE * dates + photos + BESIDE_THE_CHECKS, counted["on"]
