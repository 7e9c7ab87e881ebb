"""A cart is walked, judged and signed on a tablet, and the yard holds exactly what was signed."""

import hashlib
import io
import json
from datetime import datetime

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.capture.standin import Yard
from tests.capture.standin_reference import CART_IDS
from tests.capture.tablet import Tablet, camera_jpeg

pytestmark = pytest.mark.journey


def test_carts_leaving_first_are_at_the_top(tablet: Tablet) -> None:
    tablet.open()
    numbers = tablet.page.locator(".fleet-number")
    expect(numbers).to_have_text(["WC 07", "WC 12", "WC 3"])
    tablet.see("Leaves today 12:30 pm")
    tablet.see("Due: Daily pre-start")
    tablet.see("Ready until Thursday, then the 500-hour service.")


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("07", ["WC 07"]),
        ("s102cvr", ["WC 12"]),
        ("wc3", ["WC 3"]),
        ("wc", ["WC 07", "WC 12", "WC 3"]),
        ("zz", []),
    ],
)
def test_a_cart_is_found_by_number_or_plate_or_a_part(tablet: Tablet, typed: str, found: list[str]) -> None:
    tablet.open()
    tablet.page.get_by_label("Find by fleet number or plate").fill(typed)
    expect(tablet.page.locator(".fleet-number")).to_have_text(found)
    if not found:
        tablet.see("No cart has that number or plate.")


def test_its_plate_opens_the_cart_with_what_is_already_told_first(tablet: Tablet) -> None:
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.at("WC 07")
    told = tablet.page.locator(".known-defects li")
    expect(told).to_contain_text(["Cannon drips when shut", "Right mud flap torn"])
    expect(told.first).to_contain_text("reported Tuesday, fitter Thursday")
    expect(tablet.button("Daily pre-start", exact=False)).to_contain_text("20 looks, about 11 minutes")
    expect(tablet.page.locator("button.purpose").first).to_contain_text("Due")


def test_a_plate_scanned_while_the_page_is_open_changes_the_cart(tablet: Tablet) -> None:
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.at("WC 07")
    tablet.run(f"location.hash = 'cart={CART_IDS['WC 12']}'")
    tablet.at("WC 12")


def test_a_plate_the_yard_does_not_list_says_so(tablet: Tablet) -> None:
    tablet.open("#cart=00000000-0000-4000-8000-000000000000")
    tablet.see("That cart is not on the yard’s list.")


def test_each_pass_begins_with_what_to_mind(tablet: Tablet) -> None:
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap("Daily pre-start", exact=False)
    tablet.at("Key-out lap")
    tablet.see("Part 1 of 4")
    tablet.see("Key out and in your pocket.")
    tablet.see("14 checks at 9 places.")
    tablet.tap("Start: Key-out lap")
    tablet.at("Cab, 1 of 13")


def test_the_plan_shows_where_one_is_and_what_is_done(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    here = tablet.page.locator(".lap .is-here")
    expect(here).to_have_attribute("data-station", "right_front_wheel")
    tablet.tap("Good")
    expect(here).to_have_attribute("data-station", "right_rear_wheels")
    expect(tablet.page.locator(".lap .is-done")).to_have_attribute("data-station", "right_front_wheel")


def test_a_whole_walk_arrives_as_it_was_given(tablet: Tablet, yard: Yard) -> None:
    tablet.start()
    for title in ("Steps and grab rails", "Handbook"):
        tablet.at(title)
        tablet.tap("Good")
    tablet.at("Fan and drive belts")
    tablet.tap("Something’s wrong")
    tablet.tap("Do not use")
    tablet.tap("cracked")
    tablet.photograph(camera_jpeg(turned=6))
    tablet.tap("Save what’s wrong")
    tablet.at("Engine oil")
    tablet.tap("Between the marks")
    tablet.at("Coolant")
    tablet.tap("Couldn’t check")
    tablet.tap("Too dark")
    for title in ("Wheel nuts", "Pump shaft guard"):
        tablet.at(title)
        tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.measure("6.50")
    tablet.at("Tread depth, inner")
    tablet.measure("2.9")
    tablet.see("2.9 mm. Limit: 3.0 mm or more.")
    tablet.photograph()
    tablet.tap("Save what’s wrong")
    tablet.at("Rear, as it stands")
    tablet.photograph(camera_jpeg(width=640, height=480))
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.measure("3")
    tablet.at("Between the duals")
    tablet.tap("Good")
    tablet.at("Extinguisher tag")
    tablet.tap("Mar")
    tablet.tap("2026")
    tablet.tap("Save March 2026")
    tablet.at("Cannon")
    tablet.tap("Not on this cart")
    tablet.tap("Start: Seat and start")
    tablet.at("Seat belt")
    tablet.tap("Good")
    tablet.at("Engine hours")
    tablet.measure("4211.5", "h")
    tablet.at("Fuel")
    tablet.tap("5 / 8")
    tablet.tap("Start: Engine-running lap")
    tablet.at("Leaks, engine running")
    tablet.tap("Good")
    tablet.tap("Start: Wet run and short drive")
    tablet.at("Rear heads")
    tablet.tap("Good")
    tablet.at("Emergency stop, in the cab")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.see("2 wrong, 1 couldn’t check, 1 not on this cart, 16 good.")
    yard.judgement = {
        "outcome": "held",
        "headline": "WC 07 is held.",
        "reasons": [{"grade": "do_not_use", "sentence": "Fan and drive belts: cracked."}],
    }
    tablet.sign()
    tablet.at("Held")
    tablet.see("Fan and drive belts: cracked.")
    tablet.see("Leave the cart where it stands, take the key out and tell the workshop manager.")

    record = yard.record()
    given = [
        (
            a["check"],
            a["place"],
            a["answer"],
            a["value"],
            a["unit"],
            a["choice"],
            a["grade"],
            a["why"],
            a["words"],
        )
        for a in record["answers"]
    ]
    assert given == [
        ("steps", "", "good", None, None, None, None, None, ""),
        ("handbook", "", "good", None, None, None, None, None, ""),
        ("belts", "", "wrong", None, None, None, "do_not_use", None, "cracked."),
        ("oil", "", "good", None, None, "between", None, None, ""),
        ("coolant", "", "could_not_check", None, None, None, None, "dark", ""),
        ("nuts_front", "", "good", None, None, None, None, None, ""),
        ("pump_guard", "", "good", None, None, None, None, None, ""),
        ("tread", "2RO", "good", "6.50", "mm", None, None, None, ""),
        ("tread", "2RI", "wrong", "2.9", "mm", None, "do_not_use", None, ""),
        ("rear_photo", "", "good", None, None, None, None, None, ""),
        ("tread_left", "2LO", "good", "3", "mm", None, None, None, ""),
        ("stones", "", "good", None, None, None, None, None, ""),
        ("extinguisher", "", "good", "2026-03", None, None, None, None, ""),
        ("cannon", "", "not_on_cart", None, None, None, None, None, ""),
        ("seat_belt", "", "good", None, None, None, None, None, ""),
        ("hours", "", "good", "4211.5", "h", None, None, None, ""),
        ("fuel", "", "good", None, None, "5", None, None, ""),
        ("leaks", "", "good", None, None, None, None, None, ""),
        ("heads", "", "good", None, None, None, None, None, ""),
        ("estop", "1", "good", None, None, None, None, None, ""),
    ]
    assert [a["n"] for a in record["answers"]] == list(range(1, 21))
    times = [datetime.fromisoformat(a["at"]) for a in record["answers"]]
    assert times == sorted(times)
    assert datetime.fromisoformat(record["started_at"]) <= times[0]
    assert times[-1] <= datetime.fromisoformat(record["signed_at"])
    assert record["cart"] == CART_IDS["WC 07"]
    assert (record["purpose"], record["rule_set"], record["version"]) == ("daily", "au", 2)
    assert record["edition"] == {"number": 4, "sha256": "4b" * 32}
    assert record["device"]["time_zone"] == "Australia/Adelaide"
    assert record["signature"] == {
        "kind": "typed",
        "name": "Ira Pell",
        "statement": yard.reference["purposes"]["daily"]["statement"],
        "strokes": [],
    }
    photos = [photo for a in record["answers"] for photo in a["photos"]]
    assert [len(a["photos"]) for a in record["answers"] if a["photos"]] == [1, 1, 1]
    assert sorted(photos) == sorted(yard.photos)


def test_the_record_is_named_by_the_hash_the_yard_holds(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    tablet.sign()
    tablet.at("Right to go")
    ((name, body),) = yard.records.items()
    sha256 = hashlib.sha256(body).hexdigest()
    tablet.see(f"Record {sha256[:12]}: the yard holds exactly what you signed.")
    tablet.see("The yard received it")
    assert json.loads(body)["id"] == name
    link = tablet.page.get_by_role("link", name="See the record")
    expect(link).to_have_attribute("href", f"/walk-rounds/{name}/")


def test_a_yard_that_holds_something_else_is_called_out(tablet: Tablet, yard: Yard) -> None:
    yard.judgement["sha256"] = "0" * 64
    tablet.walk_gate_out()
    tablet.sign()
    tablet.see("What the yard holds is not what this tablet sent.")


def test_the_bytes_sent_are_an_upright_picture_with_nothing_of_the_camera_in_it(
    tablet: Tablet, yard: Yard
) -> None:
    tablet.start("Gate-out check")
    tablet.tap("Something’s wrong")
    tablet.tap("Do not use")
    tablet.tap("loose")
    tablet.photograph(camera_jpeg(turned=6))
    shown = tablet.page.locator(".thumb img")
    expect(shown).to_have_js_property("naturalHeight", 1600)
    tablet.tap("Save what’s wrong")
    tablet.at("Tread depth, outer")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.sign()
    tablet.at("Right to go")
    ((sha256, content),) = yard.photos.items()
    assert hashlib.sha256(content).hexdigest() == sha256
    picture = Image.open(io.BytesIO(content))
    assert (picture.format, picture.size) == ("JPEG", (1200, 1600))
    assert not picture.getexif()
    red, blue = picture.getpixel((600, 200)), picture.getpixel((600, 1400))
    assert isinstance(red, tuple)
    assert isinstance(blue, tuple)
    assert red[0] > 150 > red[2]
    assert blue[2] > 150 > blue[0]
