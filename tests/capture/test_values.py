"""Values, dates and choices: entered on the page's own pads, judged only once they are entered."""

import pytest
from playwright.sync_api import expect

from tests.capture.standin import Yard
from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey


def test_the_limit_is_shown_only_after_the_entry(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    expect(tablet.page.locator("#page")).not_to_contain_text("3.0")
    tablet.measure("6.5")
    tablet.at("Seat and start")
    tablet.tap("Start: Seat and start")
    tablet.see("Kept: 6.5 mm, good (3.0 mm or more).")


def test_a_value_under_its_limit_sets_the_grade_and_no_milder_one(tablet: Tablet, yard: Yard) -> None:
    yard.reference["carts"][2]["sheets"]["gate_out"]["items"][1]["limit"]["grade"] = "by_date"
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.measure("2.9")
    tablet.see("2.9 mm. Limit: 3.0 mm or more.")
    expect(tablet.page.locator(".grade-choice")).to_have_text(["Do not use", "Repair by a date"])
    expect(tablet.button("Repair by a date")).to_have_attribute("aria-pressed", "true")
    tablet.tap("Do not use")
    tablet.photograph()
    tablet.tap("Save what’s wrong")
    tablet.tap("All checks")
    tablet.see("2.9 mm, something’s wrong, do not use.")


def test_a_grade_the_limit_set_goes_with_the_entry_it_came_from(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.measure("2.9")
    tablet.tap("Back")
    tablet.at("Tread depth, outer")
    tablet.measure("9")
    tablet.at("Seat and start")
    tablet.tap("Back")
    tablet.at("Tread depth, outer")
    expect(tablet.page.get_by_label("Tread depth, in mm")).to_have_value("9")
    tablet.tap("Something’s wrong")
    expect(tablet.page.locator('.grade-choice[aria-pressed="true"]')).to_have_count(0)
    tablet.see("9 mm.")


@pytest.mark.parametrize(
    ("keys", "reads"),
    [
        ("6.5", "6.5"),
        (".5", "0.5"),
        ("6..5", "6.5"),
        ("05", "5"),
        ("1.23456", "1.234"),
        ("1234567890", "123456789"),
    ],
)
def test_the_pad_lets_only_numbers_be_written(tablet: Tablet, keys: str, reads: str) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.enter(keys)
    value = tablet.page.get_by_label("Tread depth, in mm")
    expect(value).to_have_value(reads)
    tablet.tap("Rub out the last figure")
    expect(value).to_have_value(reads[:-1])


def test_a_keyboard_enters_a_value_too(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    value = tablet.page.get_by_label("Tread depth, in mm")
    value.press_sequentially("7,2x")
    expect(value).to_have_value("7.2")
    value.press("Enter")
    tablet.at("Seat and start")


def test_an_empty_or_half_written_value_is_not_kept(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.tap("Save value")
    tablet.see("Enter the value first.")
    tablet.enter("6.")
    tablet.tap("Save value")
    tablet.see("Enter the value first.")


def test_a_choice_that_is_wrong_goes_on_to_say_how(tablet: Tablet) -> None:
    tablet.start()
    for title in ("Handbook", "Fan and drive belts", "Engine oil"):
        tablet.tap("Later")
        tablet.at(title)
    tablet.tap("Over the full mark")
    tablet.see("Over the full mark.")
    expect(tablet.page.locator(".grade-choice")).to_have_text(["Do not use", "Repair by a date"])
    tablet.tap("No camera")
    tablet.tap("Save what’s wrong")
    tablet.at("Coolant")
    tablet.tap("Back")
    expect(tablet.button("Over the full mark")).to_have_attribute("aria-pressed", "true")


def test_a_value_under_its_limit_cannot_be_called_watch_by_another_button(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.enter("2.4")
    tablet.tap("Something’s wrong")
    tablet.see("2.4 mm. Limit: 3.0 mm or more.")
    expect(tablet.page.locator(".grade-choice")).to_have_text(["Do not use"])


def test_a_limit_the_page_cannot_judge_by_is_told(tablet: Tablet, yard: Yard) -> None:
    yard.reference["carts"][2]["sheets"]["gate_out"]["items"][1]["limit"]["op"] = "about"
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.enter("6")
    tablet.tap("Save 6 mm")
    tablet.see("This page can’t judge that value.")
    tablet.tap("Couldn’t check")
    tablet.tap("Too dark")
    tablet.at("Seat and start")
