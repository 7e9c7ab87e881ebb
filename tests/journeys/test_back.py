"""A cart comes back with a new dent: seen beside the picture it left with, charged, and on the docket to the cent."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.journeys.visitor import Visitor
from tests.journeys.walk import Finding, Walk
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

# Late back in the demo, photographed from each side as it left; 430.00 a day, 2,150.00 a week.
CART = "WC-09"
METERS = {"engine-hours": "5705.5", "odometer": "97800"}
WORDS = "Rear bumper pushed in, paint off"


def test_a_new_dent_is_seen_beside_how_it_left_and_charged(visit: Callable[..., Visitor]) -> None:
    dot = visit("dot")
    it_comes_back(dot)
    it_is_walked_as_it_came(visit("wes", "tablet"))
    the_dent_stands_beside_the_picture_out(dot)
    the_desk_charges_it_and_lets_the_fuel_go(dot)
    the_docket_says_so_to_the_cent(dot)


def it_comes_back(dot: Visitor) -> None:
    dot.open("/hire/")
    dot.follow(f"Back in yard: {CART}")
    dot.page.get_by_label("Where the keys are").fill("Key board, hook 9")
    dot.press(f"{CART} is back in the yard")
    dot.sees("Walk it as returned, before the wash")


def it_is_walked_as_it_came(wes: Visitor) -> None:
    walk = Walk(wes, CART, METERS)
    wes.open(f"/check/#cart={walk.cart['id']}")
    walk.begin("as_returned")
    dent = Finding(
        "as-it-came-back-rear", "by_date", WORDS, camera_jpeg(width=1512, height=2016, orientation=6)
    )
    assert 12 <= walk.answer_all(dent) <= 15
    walk.sign_by_typing("Wes Tonkin")


def the_dent_stands_beside_the_picture_out(dot: Visitor) -> None:
    dot.page.reload()
    dot.follow("Out and back, side by side")
    came = dot.page.get_by_role("region", name="As it came back")
    expect(came).to_contain_text(WORDS)
    expect(came).to_contain_text("New")
    expect(dot.page.locator(".back-lap svg")).to_have_count(2)
    rear = dot.page.get_by_role("region", name="6. Rear")
    for side, caption in (("left", "As it was handed over"), ("came back", WORDS)):
        pictures = rear.locator(".back-photos > div").filter(has_text=f"Pictures as it {side}")
        expect(pictures).to_contain_text(caption)
        shown = pictures.locator("img").first
        shown.scroll_into_view_if_needed()
        expect(shown).to_have_js_property("complete", value=True)
        assert shown.evaluate("image => image.naturalWidth") > 0
    dot.finds_nothing_wrong()


def the_desk_charges_it_and_lets_the_fuel_go(dot: Visitor) -> None:
    dot.follow("Decide: As it came back, Rear")
    dot.finds_nothing_wrong()
    charging = dot.page.get_by_role("form", name="Charge it")
    charging.get_by_label("In your words").fill("Rear bumper straightened and painted")
    with dot.refused_with(422):
        dot.press("Charge it")
        dot.sees("Give the amount, before tax.")
    dot.finds_nothing_wrong()
    dot.page.get_by_label("Amount, before tax").fill("240.50")
    dot.press("Charge it")
    dot.sees("Damage, rear is charged: 240.50.")
    dot.follow("Decide: Fuel, 2 of 8 short")
    dot.page.get_by_label("Why it is let go").select_option("goodwill")
    dot.press("Let it go")
    dot.sees("Let go: goodwill")
    dot.finds_nothing_wrong()


def the_docket_says_so_to_the_cent(dot: Visitor) -> None:
    """Nine days are a week and two days, 3,010.00; waiver 43.00 a day; with the bumper 3,637.50, and tax at 10 %."""
    dot.follow("Charges")
    dot.sees(
        "Rear bumper straightened and painted. 240.50, within the excess of 2,500.00 that the hirer pays each time."
    )
    dot.sees("Rear bumper pushed in, paint off.")
    dot.press("Make the docket")
    dot.sees("Hire docket D")
    amounts = dot.page.locator(".charge-lines td.amount").all_inner_texts()
    assert amounts == ["3,010.00", "387.00", "240.50", "3,637.50", "363.75", "4,001.25"]
    dot.follow("What shows it")
    expect(dot.page).to_have_url(re.compile(r"/out-and-back/#found-defect-"))
    dot.sees("Charged 240.50")
