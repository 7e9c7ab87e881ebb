"""Two looks of a pre-hire check want a photo by the yard's lot: told on arrival, kept for the walk, and on the record."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.capture.standin import Yard
from tests.capture.standin_reference import LOT
from tests.capture.tablet import SIZES, Tablet
from tests.capture.test_walk_rules import ruled

pytestmark = pytest.mark.journey

ASKED = "Take a photo of this one. The yard picks two at random on every pre-hire check."


def begin(tablet: Tablet) -> None:
    """A pre-hire check up to the first look its lot fell on."""
    tablet.start("Pre-hire check")
    tablet.at("Steps and grab rails")
    tablet.tap("Good")
    tablet.at("Fan and drive belts")


def finish(tablet: Tablet) -> None:
    """From the second picked look to the page before signing."""
    tablet.at("Tread depth, outer")
    tablet.photograph_picked()
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.at("Seat belt")
    tablet.tap("Good")
    tablet.at("Check your answers")


def answer_to(yard: Yard, check: str) -> dict[str, Any]:
    return next(answer for answer in yard.record()["answers"] if answer["check"] == check)


def test_a_picked_look_is_answered_only_after_its_photo(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    tablet.see(ASKED)
    for name in ("Good", "Something’s wrong"):
        expect(tablet.button(name)).to_have_count(0)
    tablet.photograph_picked()
    tablet.tap("Take it again")
    expect(tablet.button("Good")).to_have_count(0)
    tablet.photograph_picked()
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.see(ASKED)
    expect(tablet.page.locator(".number-pad")).to_have_count(0)
    finish(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert yard.record()["lot"] == LOT["id"]
    assert [len(answer["photos"]) for answer in yard.record()["answers"]] == [0, 1, 1, 0]


def test_no_camera_goes_with_the_answer_in_words(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    tablet.tap("No camera")
    tablet.tap("Take a photo after all")
    tablet.tap("No camera")
    tablet.tap("Good")
    finish(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert answer_to(yard, "belts")["words"] == "No photo: no camera."


def test_what_was_not_looked_at_needs_no_photo(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    tablet.tap("Couldn’t check")
    tablet.tap("Too dark")
    finish(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert answer_to(yard, "belts")["photos"] == []


def test_a_fault_there_wants_its_photo_whatever_its_grade(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    tablet.photograph_picked()
    tablet.tap("Something’s wrong")
    tablet.tap("Watch")
    expect(tablet.button("Watch")).to_have_attribute("aria-pressed", "true")
    tablet.tap("Remove photo 1")
    expect(tablet.page.locator(".thumb")).to_have_count(0)
    tablet.page.locator("#words").fill("A shine on one side")
    tablet.tap("Save what’s wrong")
    tablet.see("Take a photo, or say there is no camera.")
    tablet.photograph()
    tablet.tap("Save what’s wrong")
    finish(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert (answer_to(yard, "belts")["grade"], len(answer_to(yard, "belts")["photos"])) == ("watch", 1)


def test_nothing_shows_which_look_is_picked_before_one_is_there(tablet: Tablet) -> None:
    """Not the first check, not the list of all checks, not the page of the cart."""
    words = re.compile("photo|camera|random|picks|lot", re.IGNORECASE)
    tablet.start("Pre-hire check")
    tablet.at("Steps and grab rails")
    expect(tablet.page.locator("#page")).not_to_contain_text(words)
    tablet.tap("All checks")
    tablet.at("Check your answers")
    expect(tablet.page.locator("#page")).not_to_contain_text(words)
    rows = tablet.page.locator(".review-all .answer-row")
    shapes = rows.evaluate_all(
        "(all) => all.map((row) => [row.className, row.querySelector('.mark').outerHTML])"
    )
    assert len(shapes) == 4
    assert len({str(shape) for shape in shapes}) == 1


def test_a_walk_keeps_its_lot_when_the_yard_draws_another(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    for cart in yard.reference["carts"]:
        cart["sheets"]["pre_hire"]["lot"] = {"id": "b2" * 16, "picks": [["steps", ""], ["seat_belt", ""]]}
    tablet.page.reload()
    tablet.at("Fan and drive belts")
    tablet.see(ASKED)
    tablet.photograph_picked()
    tablet.tap("Good")
    finish(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert yard.record()["lot"] == LOT["id"]


def test_a_list_without_lots_asks_for_none_and_says_so_on_the_record(tablet: Tablet, yard: Yard) -> None:
    for cart in yard.reference["carts"]:
        del cart["sheets"]["pre_hire"]["lot"]
    begin(tablet)
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.sign()
    tablet.at("Right to go")
    assert yard.record()["lot"] is None


@pytest.mark.parametrize("size", SIZES)
def test_what_is_asked_for_fits_above_the_answers(tablet: Tablet, size: str) -> None:
    tablet.page.set_viewport_size(SIZES[size])
    begin(tablet)
    assert tablet.hidden_below_px()[0] <= 0
    assert tablet.accessibility_faults() == []
    if size.startswith("tablet"):
        assert tablet.hidden_below_px()[1] <= 0
    tablet.photograph_picked()
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    assert tablet.hidden_below_px()[0] <= 0
    if size.startswith("tablet"):
        assert tablet.hidden_below_px()[1] <= 0


def test_a_pick_is_one_check_at_one_place(modules: Page) -> None:
    said = ruled(
        modules,
        """const lot = { id: "x", picks: [["tread", "2RI"]] };
           const picked = (one) => one.items.filter((i) => rules.isPicked(one, i)).map((i) => [i.check, i.place]);
           const { lot: none, ...older } = walk;
           return [picked({ ...walk, lot }), picked(walk), picked(older)]""",
    )
    assert said == [[["tread", "2RI"]], [], []]
