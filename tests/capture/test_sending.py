"""Getting the signed record to the yard through every kind of bad weather, with nothing lost."""

import json
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.capture.standin import Yard, problem
from tests.capture.tablet import Tablet, camera_jpeg

pytestmark = pytest.mark.journey

HTML = (200, "text/html", "<!doctype html><title>Wi-Fi sign-in</title>")


def walk_with_photos(tablet: Tablet, photos: int = 2) -> None:
    """The short sheet with one fault and its photos, up to the page before signing."""
    tablet.start("Gate-out check")
    tablet.tap("Something’s wrong")
    tablet.tap("Do not use")
    tablet.tap("loose")
    for number in range(photos):
        tablet.photograph(camera_jpeg(width=400 + number, height=300))
    tablet.tap("Save what’s wrong")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")


def test_photos_go_first_and_each_once(tablet: Tablet, yard: Yard) -> None:
    walk_with_photos(tablet)
    tablet.sign()
    tablet.at("Right to go")
    assert [put.split("/")[2] for put in yard.puts] == ["photo", "photo", "walk-round"]
    assert len(yard.photos) == 2


WEATHER = {
    "html instead of the yard": (HTML, "Something between here and the yard answered instead of it."),
    "html with an error": (
        (502, "text/html", "<h1>Bad gateway</h1>"),
        "The yard’s computer is having trouble.",
    ),
    "half an answer": ((201, "application/json", '{"id": "'), "Something between here and the yard"),
    "an error of the yard": (problem(500, "No."), "The yard’s computer is having trouble."),
    "asked to wait": (problem(429, "Later."), "The yard’s computer is having trouble."),
    "signed out": (problem(401, "Signed out."), "You are signed out."),
}


@pytest.mark.parametrize("weather", WEATHER)
def test_a_failure_is_told_in_words_and_sent_again_from_where_it_stopped(
    tablet: Tablet, yard: Yard, weather: str
) -> None:
    fault, sentence = WEATHER[weather]
    walk_with_photos(tablet)
    taken: list[Any] = []

    def second_photo_fails(path: str, body: bytes, token: str) -> tuple[int, str, str]:
        taken.append(path)
        return fault if len(taken) == 2 else Yard.take(yard, path, body, token)

    yard.take = second_photo_fails  # type: ignore[method-assign]
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.see(sentence)
    tablet.see("1 of 2 photos with the yard.")
    tablet.see("By your answers alone the cart may not go.")
    tablet.tap("Send now")
    tablet.at("Right to go")
    # The photo the yard already had was not sent again.
    assert len(taken) == 4
    assert taken[0] not in taken[1:]
    assert taken[1] == taken[2]


def test_with_no_signal_the_record_waits_and_goes_unchanged(tablet: Tablet, yard: Yard) -> None:
    walk_with_photos(tablet, photos=1)
    yard.cut = True
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.see("No signal: the yard can’t be reached from here.")
    tablet.tap("Carts today")
    tablet.see("1 signed walk-round on this tablet only.")
    tablet.tap("See: WC 07, Gate-out check")
    tablet.at("Not sent yet")
    yard.cut = False
    tablet.tap("Send now")
    tablet.at("Right to go")
    assert len(yard.records) == 1
    tablet.tap("Next cart")
    tablet.see("The yard received it")


def test_an_answer_lost_on_its_way_back_makes_no_second_record(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    bodies: list[bytes] = []

    def answer_is_lost(path: str, body: bytes, token: str) -> tuple[int, str, str]:
        bodies.append(body)
        right = Yard.take(yard, path, body, token)
        return HTML if len(bodies) == 1 else right

    yard.take = answer_is_lost  # type: ignore[method-assign]
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.tap("Send now")
    tablet.at("Right to go")
    assert bodies[0] == bodies[1]
    assert len(yard.records) == 1


def test_a_new_token_after_signing_in_again_is_fetched_and_used(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    tokens: list[str] = []

    def turned_down_once(path: str, body: bytes, token: str) -> tuple[int, str, str]:
        tokens.append(token)
        yard.reference["csrf"] = "token-2"
        return Yard.take(yard, path, body, token)

    yard.take = turned_down_once  # type: ignore[method-assign]
    tablet.sign()
    tablet.at("Right to go")
    assert tokens == ["token-1", "token-2"]


def test_being_signed_out_offers_a_sign_in_beside_this_page(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    yard.faults = [problem(401, "Signed out.")]
    tablet.sign()
    link = tablet.page.get_by_role("link", name="Sign in on another page")
    expect(link).to_have_attribute("target", "_blank")
    tablet.tap("Send now")
    tablet.at("Right to go")


def test_a_photo_the_yard_lost_is_sent_again_with_the_record(tablet: Tablet, yard: Yard) -> None:
    walk_with_photos(tablet)
    lost: list[str] = []

    def loses_one(path: str, body: bytes, token: str) -> tuple[int, str, str]:
        if "walk-round" in path and not lost:
            lost.append(min(yard.photos))
            del yard.photos[lost[0]]
        return Yard.take(yard, path, body, token)

    yard.take = loses_one  # type: ignore[method-assign]
    tablet.sign()
    tablet.at("Right to go")
    assert [put.split("/")[2] for put in yard.puts] == ["photo", "photo", "walk-round", "photo", "walk-round"]
    assert yard.puts[3].endswith(lost[0])


@pytest.mark.parametrize(
    ("status", "detail"),
    [
        pytest.param(422, "This walk-round was already received with other answers.", id="changed record"),
        pytest.param(422, "Issue 9 of the sheets was never published.", id="an edition never published"),
        pytest.param(404, "The yard knows no such cart.", id="unknown cart"),
        pytest.param(413, "This record is too large.", id="too large"),
    ],
)
def test_a_refusal_is_shown_in_the_yards_words_and_the_record_stays(
    tablet: Tablet, yard: Yard, status: int, detail: str
) -> None:
    tablet.walk_gate_out()
    yard.faults = [problem(status, detail)]
    tablet.sign()
    tablet.at("The yard refused it")
    tablet.see(detail)
    tablet.see("It stays on this tablet, signed, as it is.")
    tablet.tap("Carts today")
    tablet.see("The yard refused it; it is on this tablet only.")


def test_a_role_that_may_not_sign_is_told_so(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    refusal = problem(403, "Walk-rounds are signed by yard hands, fitters and managers.")
    yard.faults = [refusal, refusal]
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.see("Walk-rounds are signed by yard hands, fitters and managers.")


def test_news_from_the_yard_does_not_swallow_a_press(tablet: Tablet, yard: Yard) -> None:
    tablet.open()
    tablet.page.wait_for_load_state("networkidle")
    tablet.page.get_by_label("Find by fleet number or plate").fill("12")
    box = tablet.page.get_by_role("link", name="WC 12").bounding_box()
    assert box
    tablet.page.mouse.move(box["x"] + 50, box["y"] + 50)
    tablet.page.mouse.down()
    with tablet.page.expect_response("**/sync/reference"):
        tablet.run("document.getElementById('fetch').click()")
    tablet.page.wait_for_timeout(100)
    tablet.page.mouse.up()
    tablet.at("WC 12")


def test_a_list_fetched_again_keeps_what_was_being_looked_for(tablet: Tablet, yard: Yard) -> None:
    tablet.open()
    tablet.page.get_by_label("Find by fleet number or plate").fill("12")
    yard.reference["carts"][1]["right_to_go"]["sentence"] = "Ready now."
    tablet.tap("Fetch again")
    tablet.see("Ready now.")
    expect(tablet.page.locator(".fleet-number")).to_have_text(["WC 12"])
    expect(tablet.page.get_by_label("Find by fleet number or plate")).to_have_value("12")


def test_another_cart_can_be_walked_while_one_waits(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    yard.cut = True
    tablet.sign()
    tablet.at("Not sent yet")
    yard.cut = False
    tablet.tap("Carts today")
    tablet.page.get_by_role("link", name="WC 12").click()
    tablet.tap("Gate-out check", exact=False)
    tablet.tap("Start: Key-out lap")
    tablet.at("Wheel nuts")
    tablet.see("Nothing answered yet.")


@pytest.mark.parametrize(
    ("outcome", "headline"), [("ready", "Right to go"), ("conditions", "Goes with limits"), ("held", "Held")]
)
def test_the_outcome_stands_in_large_words_with_its_reasons(
    tablet: Tablet, yard: Yard, outcome: str, headline: str
) -> None:
    yard.judgement = {
        "outcome": outcome,
        "headline": "What it comes to.",
        "reasons": [{"grade": "by_date", "sentence": "Right mud flap torn."}],
    }
    tablet.walk_gate_out()
    tablet.sign()
    heading = tablet.page.get_by_role("heading", level=1, name=headline)
    expect(heading).to_be_visible()
    expect(heading).to_have_css("font-size", "64px")
    tablet.see("What it comes to.")
    tablet.see("Right mud flap torn.")


def test_with_no_list_from_the_yard_the_page_says_why_and_tries_again(tablet: Tablet, yard: Yard) -> None:
    yard.cut = True
    tablet.open()
    tablet.see("No signal: the yard can’t be reached from here.")
    yard.cut = False
    tablet.tap("Try again")
    expect(tablet.page.get_by_role("link", name="WC 07")).to_be_visible()


def test_the_device_tells_how_far_its_clock_is_off(tablet: Tablet, yard: Yard) -> None:
    tablet.page.clock.install(time="2026-11-25T00:01:00Z")
    tablet.start("Gate-out check")
    tablet.page.clock.run_for(1000)
    for step in ("Good", "8", "Save 8 mm", "Start: Seat and start", "Good"):
        tablet.tap(step)
        tablet.page.clock.run_for(1000)
    tablet.at("Check your answers")
    tablet.tap("These are right: go and sign")
    tablet.tap("Type my name")
    tablet.page.get_by_label("Type your name").fill("Ira Pell")
    tablet.tap("Sign and send")
    tablet.at("Right to go")
    # The yard's clock stands a minute behind this tablet's.
    assert -62_000 <= yard.record()["device"]["offset_ms"] <= -60_000
    assert json.dumps(yard.record()["signed_at"]).startswith('"2026-11-25T00:01:')


def test_a_name_not_confirmed_and_a_wrong_clock_are_told(tablet: Tablet, yard: Yard) -> None:
    yard.judgement |= {"name_confirmed": False, "clock_flag": True}
    tablet.walk_gate_out()
    tablet.sign()
    tablet.at("Right to go")
    tablet.see("confirms it under their own sign-in, on the record’s page.")
    tablet.see("This tablet’s clock is wrong. The yard put the times right by its own.")
    person = yard.reference["person"]
    assert yard.record()["author"] == {"id": person["id"], "name": person["name"], "how": "sign_in"}
