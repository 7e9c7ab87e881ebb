"""One check, one answer: shown as chosen only once it is kept, never given beforehand, always open to change."""

import pytest
from playwright.sync_api import Page, Route, expect

from tests.capture.standin import ROOT, Yard
from tests.capture.tablet import Tablet, camera_jpeg

pytestmark = pytest.mark.journey


def with_store(page: Page, put: str) -> None:
    """Gives the page a store whose put begins with this script; `key` is what is to be kept."""
    source = (ROOT / "static" / "capture" / "store.js").read_text(encoding="utf-8")
    before = "async put(key, value) {"
    assert before in source

    def serve(route: Route) -> None:
        route.fulfill(content_type="text/javascript", body=source.replace(before, f"{before}\n{put}"))

    page.route("**/static/capture/store.js", serve)


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
    tablet.see("Not kept: the tablet had no room for it.")
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
    for _ in range(3):
        tablet.tap("Later")
    tablet.at("Engine oil")
    tablet.tap("Over the full mark")
    tablet.see("Over the full mark.")
    expect(tablet.page.locator(".grade-choice")).to_have_text(["Do not use", "Repair by a date"])
    tablet.tap("No camera")
    tablet.tap("Save what’s wrong")
    tablet.at("Coolant")
    tablet.tap("Back")
    expect(tablet.button("Over the full mark")).to_have_attribute("aria-pressed", "true")


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


def test_a_fault_says_what_is_missing_and_keeps_what_was_told(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    tablet.tap("Do not use")
    tablet.tap("Save what’s wrong")
    summary = tablet.page.locator("#gaps")
    expect(summary).to_be_focused()
    expect(summary.get_by_role("link")).to_have_text(
        ["Take a photo, or say there is no camera.", "Say in a few words what is wrong."]
    )
    summary.get_by_role("link").last.click()
    expect(tablet.page.get_by_label("What is wrong, in a few words")).to_be_focused()
    tablet.tap("loose")
    tablet.tap("worn")
    tablet.tap("Back")
    tablet.at("Steps and grab rails")
    tablet.tap("Something’s wrong")
    expect(tablet.button("Do not use")).to_have_attribute("aria-pressed", "true")
    expect(tablet.page.get_by_label("What is wrong, in a few words")).to_have_value("loose, worn")


def test_more_often_used_words_are_one_tap_away(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    tablet.tap("Other words")
    expect(tablet.button("Other words")).to_be_focused()
    tablet.tap("won't turn off")
    expect(tablet.page.get_by_label("What is wrong, in a few words")).to_have_value("won't turn off")


def test_several_photos_and_one_taken_away(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    tablet.photograph(camera_jpeg(width=400, height=300))
    tablet.photograph(camera_jpeg(width=300, height=400))
    tablet.tap("Remove photo 1")
    expect(tablet.page.locator(".thumb")).to_have_count(1)
    tablet.tap("Watch")
    tablet.tap("loose")
    tablet.tap("Save what’s wrong")
    tablet.tap("All checks")
    tablet.see("loose. 1 photo.")


def test_a_file_that_is_no_picture_is_told_and_nothing_is_lost(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    tablet.tap("Watch")
    tablet.page.locator("#camera").set_input_files(
        {"name": "IMG.jpg", "mimeType": "image/jpeg", "buffer": b"%PDF-1.7 not a picture"}
    )
    tablet.see("That is not a picture this tablet can open.")
    expect(tablet.page.locator(".thumb")).to_have_count(0)
    expect(tablet.button("Watch")).to_have_attribute("aria-pressed", "true")


def test_a_check_that_wants_a_photo_is_not_good_without_one(tablet: Tablet, yard: Yard) -> None:
    yard.reference["checks"]["nuts_front"]["photo"] = True
    tablet.start("Gate-out check")
    tablet.tap("Good")
    tablet.see("This one wants a photo.")
    tablet.tap("No camera")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.tap("All checks")
    tablet.see("Good. No photo: no camera.")
