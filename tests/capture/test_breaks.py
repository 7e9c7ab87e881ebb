"""A knock, a call, a closed lid: what a person comes back to."""

import pytest
from playwright.sync_api import expect

from tests.capture.standin import Yard
from tests.capture.standin_reference import CART_IDS
from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey


@pytest.mark.parametrize(
    ("away_s", "goes_back"),
    [pytest.param(59, False, id="under a minute"), pytest.param(61, True, id="over a minute")],
)
def test_after_a_minute_away_the_walk_goes_back_one_check(
    tablet: Tablet, away_s: int, goes_back: bool
) -> None:
    tablet.page.clock.install()
    tablet.start()
    for title in ("Steps and grab rails", "Handbook"):
        tablet.at(title)
        tablet.page.clock.run_for(1000)
        tablet.tap("Good")
        tablet.page.clock.run_for(1000)
    tablet.at("Fan and drive belts")
    tablet.hide()
    tablet.page.clock.fast_forward(away_s * 1000)
    tablet.show()
    if goes_back:
        tablet.at("Handbook")
        tablet.see("You were away 1 minute. You are one check back: look at this one again.")
        expect(tablet.button("Good")).to_have_attribute("aria-pressed", "true")
    else:
        tablet.at("Fan and drive belts")


def test_a_fault_half_told_is_not_left_for_a_break(tablet: Tablet) -> None:
    tablet.page.clock.install()
    tablet.start()
    tablet.page.clock.run_for(1000)
    tablet.tap("Something’s wrong")
    tablet.tap("Watch")
    tablet.hide()
    tablet.page.clock.fast_forward(300_000)
    tablet.show()
    tablet.see("How bad is it?")
    expect(tablet.button("Watch")).to_have_attribute("aria-pressed", "true")


def test_a_walk_left_for_the_list_is_taken_up_one_check_before(tablet: Tablet) -> None:
    tablet.start()
    for title in ("Steps and grab rails", "Handbook"):
        tablet.at(title)
        tablet.tap("Good")
    tablet.at("Fan and drive belts")
    tablet.run("location.hash = ''")
    tablet.at("On this tablet")
    tablet.see("2 answers on this tablet only.")
    tablet.see("Daily pre-start begun: 2 of 20")
    tablet.tap("Carry on: WC 07, Daily pre-start")
    tablet.at("Handbook")
    tablet.see("Taken up again. You are one check back: look at this one again.")


def test_a_page_loaded_again_has_every_answer(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.page.reload()
    tablet.at("Handbook")
    tablet.see("1 of 20")
    tablet.open()
    tablet.see("1 walk-round begun.")
    tablet.tap("Carry on: WC 07, Daily pre-start")
    tablet.at("Steps and grab rails")
    tablet.see("Taken up again. You are one check back: look at this one again.")


def test_a_walk_that_is_gone_says_so(tablet: Tablet) -> None:
    tablet.open("#walk=00000000-0000-4000-8000-000000000001&at=3")
    tablet.see("That walk-round is not kept here.")
    tablet.at("Carts today")


def test_a_begun_walk_is_thrown_away_only_after_asking(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.run(f"location.hash = 'cart={CART_IDS['WC 07']}'")
    tablet.tap("Throw the begun Daily pre-start away")
    tablet.see("1 answer will be lost.")
    tablet.tap("Keep it")
    expect(tablet.button("Daily pre-start", exact=False).first).to_contain_text("Carry on: 1 of 20 answered")
    tablet.tap("Throw the begun Daily pre-start away")
    tablet.tap("Throw it away")
    tablet.see("Daily pre-start thrown away. Nothing of it was sent.")
    expect(tablet.button("Daily pre-start", exact=False)).to_contain_text("20 looks")


def test_a_newer_list_from_the_yard_leaves_a_walk_under_way_as_it_was(tablet: Tablet, yard: Yard) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.run("location.hash = ''")
    yard.reference["edition"] = {"number": 5, "sha256": "5c" * 32}
    yard.reference["checks"] = {}
    yard.reference["carts"] = []
    tablet.tap("Fetch again")
    tablet.see("No carts here today.")
    tablet.tap("Carry on: WC 07, Gate-out check")
    tablet.tap("Next")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.sign()
    tablet.at("Right to go")
    assert yard.record()["edition"] == {"number": 4, "sha256": "4b" * 32}
