"""One check, one answer: shown as chosen only once it is kept, never given beforehand, always open to change."""

import pytest
from playwright.sync_api import expect

from tests.capture.tablet import Tablet, with_store

pytestmark = pytest.mark.journey


def test_the_chosen_look_waits_for_the_store(tablet: Tablet) -> None:
    with_store(
        tablet.page,
        'if (key.startsWith("answer:")) await new Promise((done) => { window.letItKeep = done; });',
    )
    tablet.start()
    tablet.tap("Good")
    tablet.page.wait_for_timeout(400)
    assert tablet.run("typeof window.letItKeep") == "function"
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "false")
    tablet.at("Steps and grab rails")
    tablet.run(
        """() => {
            window.looks = [];
            const good = document.querySelector(".answer-good");
            new MutationObserver(() => window.looks.push(good.getAttribute("aria-pressed")))
                .observe(good, { attributes: true, attributeFilter: ["aria-pressed"] });
            window.letItKeep();
        }"""
    )
    tablet.at("Handbook")
    assert tablet.run("window.looks") == ["true"]
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "false")


def test_an_answer_the_store_refused_is_told_and_not_shown_as_kept(tablet: Tablet) -> None:
    with_store(
        tablet.page,
        'if (key.startsWith("answer:") && !window.room) throw new DOMException("full", "QuotaExceededError");',
    )
    tablet.start()
    tablet.tap("Good")
    tablet.see("Not kept: there was no room for it.")
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "false")
    tablet.see("0 of 20")
    tablet.run("window.room = true")
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.see("1 of 20")


def test_nothing_is_chosen_before_a_person_chose_it(tablet: Tablet) -> None:
    tablet.start()
    expect(tablet.page.locator('.answers [aria-pressed="true"]')).to_have_count(0)
    tablet.tap("Something’s wrong")
    expect(tablet.page.locator('[aria-pressed="true"]')).to_have_count(0)
    tablet.see("Usual here: repair by a date.")
    assert tablet.page.get_by_label("What is wrong, in a few words").input_value() == ""


def test_no_button_answers_more_than_one_check(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("All checks")
    tablet.see("20 checks without an answer, 0 good.")
    names = tablet.page.get_by_role("button").all_inner_texts()
    assert names == ["Back", "These are right: go and sign"]


def test_the_second_half_of_a_double_tap_answers_nothing(tablet: Tablet) -> None:
    tablet.start()
    tablet.button("Good").dblclick()
    tablet.at("Handbook")
    tablet.page.wait_for_timeout(600)
    tablet.at("Handbook")
    tablet.see("1 of 20")


def test_a_finger_that_slides_off_answers_nothing(tablet: Tablet) -> None:
    tablet.start()
    box = tablet.button("Good").bounding_box()
    assert box
    mouse = tablet.page.mouse
    mouse.move(box["x"] + 40, box["y"] + 40)
    mouse.down()
    mouse.move(box["x"] + 40, box["y"] - 200)
    mouse.up()
    tablet.page.wait_for_timeout(400)
    tablet.at("Steps and grab rails")


def test_an_answer_can_be_gone_back_to_and_changed(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.tap("Back")
    tablet.at("Steps and grab rails")
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "true")
    tablet.tap("Couldn’t check")
    tablet.tap("Something in the way")
    tablet.at("Handbook")
    tablet.tap("All checks")
    tablet.see("Couldn’t check: Something in the way.")
    tablet.see("0 good")


def test_going_back_at_once_is_not_pulled_forward_again(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    expect(tablet.button("Good")).to_be_enabled()
    tablet.run(
        """() => {
            document.querySelector(".answer-good").click();
            setTimeout(() => document.querySelector(".step-back").click(), 100);
        }"""
    )
    tablet.at("Steps and grab rails")
    tablet.page.wait_for_timeout(500)
    tablet.at("Steps and grab rails")
    tablet.see("2 of 20")


def test_the_browsers_own_back_walks_back_too(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.page.go_back()
    tablet.at("Steps and grab rails")
    tablet.page.go_forward()
    tablet.at("Handbook")


def test_focus_follows_an_answer_to_the_next_check(tablet: Tablet) -> None:
    tablet.start()
    expect(tablet.button("Good")).to_be_enabled()
    tablet.button("Good").focus()
    tablet.page.keyboard.press("Enter")
    expect(tablet.page.get_by_role("heading", name="Handbook")).to_be_focused()


def test_what_was_left_for_later_is_listed_and_stops_signing(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Later")
    tablet.at("Tread depth, outer")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.see("1 check without an answer, 2 good.")
    tablet.tap("These are right: go and sign")
    summary = tablet.page.get_by_role("alert")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("1 check has no answer yet.")
    summary.get_by_role("link", name="Wheel nuts").click()
    tablet.at("Wheel nuts")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.see("3 good.")


def test_a_change_from_the_list_comes_back_to_the_list(tablet: Tablet) -> None:
    tablet.walk_gate_out()
    tablet.page.get_by_role("link", name="Seat belt").click()
    tablet.at("Seat belt")
    tablet.tap("Something’s wrong")
    tablet.tap("Watch")
    tablet.tap("worn")
    tablet.tap("Save what’s wrong")
    tablet.at("Check your answers")
    tablet.see("1 wrong, 2 good.")
    tablet.see("Something’s wrong, watch. worn.")


def test_another_reason_wants_words(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Couldn’t check")
    tablet.tap("Other")
    tablet.see("Say in a few words what was in the way.")
    tablet.page.get_by_label("A few words, where").fill("Wasps under the step")
    tablet.tap("Other")
    tablet.at("Handbook")
    tablet.tap("All checks")
    tablet.see("Couldn’t check: Other. Wasps under the step")


def test_couldnt_check_says_what_it_costs_on_a_required_check(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Couldn’t check")
    tablet.see("the cart can’t go until it has been done")
