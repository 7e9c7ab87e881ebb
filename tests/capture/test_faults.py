"""Something's wrong: a grade, a photo and a few words on one screen, kept from the first press on."""

import pytest
from playwright.sync_api import expect

from tests.capture.standin import Yard
from tests.capture.tablet import Tablet, camera_jpeg, with_store

pytestmark = pytest.mark.journey


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
    tablet.see("That is not a picture that can be opened here.")
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


def test_two_photos_taken_at_once_are_both_kept(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    files = [
        {"name": f"IMG_{n}.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(width=300 + n, height=200)}
        for n in range(2)
    ]
    bad = {"name": "IMG_9.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    tablet.page.locator("#camera").set_input_files([files[0], bad, files[1]])  # type: ignore[arg-type]
    expect(tablet.page.locator(".thumb img")).to_have_count(2)
    tablet.see("That is not a picture that can be opened here.")


def test_a_photo_is_kept_by_a_tablet_that_is_never_idle(tablet: Tablet) -> None:
    """A browser's own way to write a JPEG waits for an idle moment, and on a busy tablet none came for seconds."""
    tablet.page.add_init_script("HTMLCanvasElement.prototype.toBlob = () => {};")
    tablet.start()
    tablet.tap("Something’s wrong")
    tablet.photograph()


def test_no_more_photos_are_kept_than_the_yard_takes(tablet: Tablet) -> None:
    tablet.start()
    tablet.tap("Something’s wrong")
    files = [
        {"name": f"IMG_{n}.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg(width=60 + n, height=40)}
        for n in range(13)
    ]
    tablet.page.locator("#camera").set_input_files(files)  # type: ignore[arg-type]
    expect(tablet.page.locator(".thumb img")).to_have_count(12, timeout=30_000)
    tablet.see("Twelve photos are the most for one check.")


def test_a_slow_disk_loses_no_letter_of_what_is_wrong(tablet: Tablet, yard: Yard) -> None:
    with_store(
        tablet.page,
        'if (key.startsWith("draft:")) await new Promise((done) => setTimeout(done, 300));',
    )
    tablet.start("Gate-out check")
    tablet.tap("Something’s wrong")
    tablet.page.get_by_label("What is wrong, in a few words").fill("Two nuts turned")
    # Both pressed before the disk has the words.
    tablet.run(
        """() => {
            document.getElementById("grade-watch").click();
            document.querySelector(".foot .main-choice").click();
        }"""
    )
    tablet.at("Tread depth, outer")
    tablet.tap("All checks")
    tablet.see("Two nuts turned. ")
