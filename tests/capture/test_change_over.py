"""One tablet, several hands: by PIN where there is a signal, by name alone where there is none, until the PIN confirms it."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.capture.look_states import hold
from tests.capture.standin import Yard
from tests.capture.standin_reference import REFERENCE
from tests.capture.tablet import Tablet
from tests.capture.test_offline import Tray, kept

pytestmark = pytest.mark.journey

IRA = REFERENCE["person"]
WES = {"id": "0d5d8c3c-0000-4000-8000-0000000000bb", "name": "Wes Tonkin", "role": "yard_hand"}
BRUNA = {"id": "0d5d8c3c-0000-4000-8000-0000000000cc", "name": "Bruna Kitto", "role": "workshop_manager"}
PINS = {"Ira Pell": "480216", "Wes Tonkin": "739105"}


@pytest.fixture
def shared(yard: Yard) -> Yard:
    """An enrolled tablet on which Ira Pell signed in with the password."""
    yard.share(IRA, WES, BRUNA, pins=PINS)
    return yard


@pytest.fixture
def tray(browser: Browser, tmp_path: Path, served: tuple[str, Yard]) -> Iterator[Tray]:
    tray = Tray(browser, tmp_path / "tablet", served[0])
    yield tray
    tray.off()


def change_to(tablet: Tablet, name: str, pin: str = "") -> None:
    tablet.tap("Change over")
    tablet.tap(name)
    if pin:
        tablet.at(name)
        tablet.enter(pin)
        tablet.tap("Take the tablet")


def sign_one(tablet: Tablet, name: str) -> None:
    tablet.walk_gate_out()
    tablet.sign(name)


def test_a_tablet_of_ones_own_has_nothing_of_it(tablet: Tablet) -> None:
    tablet.open()
    tablet.see("Ira Pell. List from the yard")
    expect(tablet.button("Change over")).to_have_count(0)
    tablet.open("#page=who")
    tablet.at("Carts today")


def test_a_shared_tablet_says_who_has_it_and_changes_hands_by_pin(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.at("Carts today")
    tablet.see("Wes Tonkin has this tablet.")
    assert shared.reference["person"]["name"] == "Wes Tonkin"
    sign_one(tablet, "Wes Tonkin")
    tablet.at("Right to go")
    assert shared.record()["author"] == {"id": WES["id"], "name": "Wes Tonkin", "how": "sign_in"}
    expect(tablet.page.get_by_text("Name not yet confirmed")).to_have_count(0)


def test_the_digits_are_dots_and_one_can_be_taken_back(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    change_to(tablet, "Wes Tonkin")
    tablet.enter("739")
    tablet.see("●●●○○○")
    tablet.tap("Take back")
    tablet.see("●●○○○○")
    expect(tablet.page.locator(".pin-dots")).to_have_text("●●○○○○")
    expect(tablet.page.locator("#page input")).to_have_count(0)
    tablet.tap("Take the tablet")
    tablet.see("A PIN is six digits. 2 are in.")
    # A keyboard does as well.
    tablet.page.locator(".pin-pad").get_by_role("button", name="0", exact=True).focus()
    tablet.page.keyboard.type("910599")
    tablet.see("●●●●●●")
    tablet.page.keyboard.press("Backspace")
    tablet.page.keyboard.type("5")
    tablet.tap("Take the tablet")
    tablet.see("Wes Tonkin has this tablet.")
    assert shared.pins_given == [PINS["Wes Tonkin"]]


def test_a_wrong_pin_is_told_and_too_many_wait_in_seconds(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    change_to(tablet, "Wes Tonkin", "111111")
    tablet.see("That is not the PIN. Try again.")
    tablet.see("○○○○○○")
    shared.wait_seconds = 20
    tablet.enter(PINS["Wes Tonkin"])
    tablet.tap("Take the tablet")
    tablet.see("Too many wrong PINs. Wait 20 seconds, then try again.")
    tablet.tap("Back")
    tablet.see("Ira Pell has this tablet.")


def test_who_has_no_pin_is_led_to_the_password(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    change_to(tablet, "Bruna Kitto")
    tablet.see("There is no PIN for Bruna Kitto. Sign in with name and password.")
    expect(tablet.page.get_by_role("link", name="Sign in")).to_have_attribute(
        "href", "/sign-in/?next=/check/"
    )


def test_with_nobody_signed_in_the_tablet_still_changes_over(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    shared.is_signed_out = True
    tablet.page.reload()
    tablet.see("You are signed out.")
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.see("Wes Tonkin has this tablet.")
    tablet.see("List from the yard")


def test_an_ended_tablet_says_so_and_then_changes_over_no_more(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    tablet.tap("Change over")
    shared.reference["people"] = []
    tablet.tap("Wes Tonkin")
    tablet.see("This tablet is not enrolled for changing over.")
    tablet.tap("Carts today")
    tablet.tap("Fetch again")
    expect(tablet.button("Change over")).to_have_count(0)


def test_a_name_taken_with_no_signal_stays_through_the_cold_and_the_pin_confirms_what_it_signed(
    tray: Tray, shared: Yard
) -> None:
    tablet = tray.on()
    kept(tablet)
    shared.is_gone = True
    change_to(tablet, "Wes Tonkin")
    tablet.see("No signal: your name is noted now and confirmed with your PIN when the signal is back.")
    tablet.see("Wes Tonkin has this tablet.")
    tablet.see("Taken by name, with no signal: not yet confirmed.")
    tray.off()

    tablet = tray.on()
    tablet.see("Wes Tonkin has this tablet.")
    sign_one(tablet, "Wes Tonkin")
    tablet.at("Not sent yet")
    tablet.tap("Next cart")
    shared.is_gone = False
    tablet.tap("Send now")
    tablet.see("Wes Tonkin: name not yet confirmed.")
    record = shared.record()
    assert (record["author"]["name"], shared.reference["person"]["name"]) == ("Wes Tonkin", "Ira Pell")
    # The same sign-in as before has not come since: the tablet is Wes's still.
    tablet.see("Wes Tonkin has this tablet.")

    tablet.tap("Confirm with PIN", exact=False)
    tablet.at("Confirm with PIN")
    tablet.enter(PINS["Ira Pell"])
    tablet.tap("This was me")
    tablet.see("That is not the PIN. Try again.")
    tablet.enter(PINS["Wes Tonkin"])
    tablet.tap("This was me")
    tablet.see("Wes Tonkin’s name under the gate-out check of WC 07 is confirmed.")
    expect(tablet.page.get_by_text("Name not yet confirmed")).to_have_count(0)
    assert shared.unnamed == set()
    tray.off()

    tablet = tray.on()
    tablet.see("The yard received it")
    expect(tablet.page.get_by_text("name not yet confirmed.")).to_have_count(0)


def everything_kept(tablet: Tablet) -> str:
    """All that the tablet's disk holds, as text."""
    return str(
        tablet.run(
            """async () => {
                const open = indexedDB.open("slake-yard");
                const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
                const all = [];
                for (const name of db.objectStoreNames) {
                    const asked = db.transaction(name).objectStore(name).getAll();
                    all.push(await new Promise((done) => { asked.onsuccess = () => done(asked.result); }));
                }
                db.close();
                return JSON.stringify([all, { ...localStorage }, { ...sessionStorage }]);
            }"""
        )
    )


def test_no_pin_is_ever_kept_on_the_tablet(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.see("Wes Tonkin has this tablet.")
    held = everything_kept(tablet)
    assert "Wes Tonkin" in held
    assert not [pin for pin in PINS.values() if pin in held]


def take_by_name(tablet: Tablet, yard: Yard, name: str) -> None:
    tablet.see("has this tablet.")
    yard.cut = True
    change_to(tablet, name)
    tablet.see("No signal: your name is noted now")
    yard.cut = False


def test_whoever_signs_in_afterwards_has_the_tablet_even_the_one_who_was_signed_in(
    tablet: Tablet, shared: Yard
) -> None:
    tablet.open()
    take_by_name(tablet, shared, "Wes Tonkin")
    tablet.page.reload()
    tablet.see("Wes Tonkin has this tablet.")
    shared.signs_in(IRA)
    tablet.page.reload()
    tablet.see("Ira Pell has this tablet.")


def test_who_has_no_pin_is_told_how_to_confirm_a_name_taken_with_no_signal(
    tablet: Tablet, shared: Yard
) -> None:
    tablet.open()
    tablet.see("has this tablet.")
    shared.cut = True
    change_to(tablet, "Bruna Kitto")
    tablet.see(
        "No signal: your name is noted now. Say that it was you under your own sign-in when the signal is back."
    )
    shared.cut = False
    sign_one(tablet, "Bruna Kitto")
    tablet.see("Bruna Kitto confirms it under their own sign-in, on the record’s page.")
    expect(tablet.button("Confirm with PIN")).to_have_count(0)


def test_the_record_says_how_the_tablet_was_taken(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    take_by_name(tablet, shared, "Wes Tonkin")
    sign_one(tablet, "Wes Tonkin")
    tablet.see("The yard received it")
    author = shared.record()["author"]
    assert (author["name"], author["how"]) == ("Wes Tonkin", "name")


def test_a_signal_lost_between_name_and_pin_takes_the_name_alone(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    change_to(tablet, "Wes Tonkin")
    tablet.enter(PINS["Wes Tonkin"])
    shared.cut = True
    tablet.tap("Take the tablet")
    tablet.see("No signal: your name is noted now and confirmed with your PIN when the signal is back.")
    tablet.see("Wes Tonkin has this tablet.")
    tablet.see("Taken by name")


def test_a_walk_says_who_began_it_when_another_signs(tablet: Tablet, shared: Yard) -> None:
    tablet.walk_gate_out()
    tablet.tap("These are right: go and sign")
    expect(tablet.page.get_by_text("Begun by")).to_have_count(0)
    tablet.tap("Type my name")
    tablet.page.get_by_label("Type your name").fill("Ira Pe")
    walk = tablet.page.url.split("#")[1]
    tablet.open("#")
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.see("Wes Tonkin has this tablet.")
    tablet.run("(walk) => { location.hash = walk; }", walk)
    tablet.at("Sign")
    tablet.see("Begun by Ira Pell. You sign for all of it.")
    tablet.tap("Type my name")
    expect(tablet.page.get_by_label("Type your name, Wes Tonkin")).to_have_value("")
    tablet.page.get_by_label("Type your name").fill("Wes Tonkin")
    tablet.tap("Sign and send")
    tablet.at("Right to go")
    assert shared.record()["author"]["name"] == "Wes Tonkin"


def test_a_name_confirmed_elsewhere_is_learnt_with_the_next_sending(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    take_by_name(tablet, shared, "Wes Tonkin")
    sign_one(tablet, "Wes Tonkin")
    tablet.see("Name not yet confirmed. Wes Tonkin confirms it with the PIN below")
    expect(tablet.button("Confirm with PIN")).to_be_visible()
    shared.unnamed.clear()
    tablet.page.reload()
    expect(tablet.page.get_by_text("Name not yet confirmed")).to_have_count(0)
    assert len({json.dumps(put) for put in shared.puts}) == 1


def test_an_unconfirmed_name_stays_on_the_list_however_many_came_after_it(
    tablet: Tablet, shared: Yard
) -> None:
    tablet.open()
    take_by_name(tablet, shared, "Wes Tonkin")
    sign_one(tablet, "Wes Tonkin")
    tablet.at("Right to go")
    tablet.open("#")
    change_to(tablet, "Ira Pell", PINS["Ira Pell"])
    for _ in range(4):
        tablet.see("Ira Pell has this tablet.")
        sign_one(tablet, "Ira Pell")
        tablet.at("Right to go")
        tablet.tap("Next cart")
    tablet.see("Wes Tonkin: name not yet confirmed.")
    expect(tablet.page.locator(".on-tablet li")).to_have_count(4)


def test_the_screens_are_fit_for_gloves(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    tablet.tap("Change over")
    tablet.at("Who has this tablet now?")
    assert tablet.accessibility_faults() == []
    assert smallest(tablet, "#page .names button") >= 104
    tablet.tap("Wes Tonkin")
    tablet.at("Wes Tonkin")
    assert tablet.accessibility_faults() == []
    assert smallest(tablet, "#page button") >= 64
    assert tablet.hidden_below_px() == (0, 0)


def smallest(tablet: Tablet, selector: str) -> float:
    """The shortest side of any of them, in px."""
    return float(
        tablet.run(
            """(selector) => Math.min(...[...document.querySelectorAll(selector)].map((one) => {
                const { width, height } = one.getBoundingClientRect();
                return Math.min(width, height);
            }))""",
            selector,
        )
    )


def test_a_change_of_hands_waits_for_the_calls_under_way(tablet: Tablet, shared: Yard) -> None:
    """Else the yard meets the old sign-in's call after its end, and tells the new holder to sign in."""
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    held = hold(tablet.page, "**/sync/reference")
    tablet.tap("Fetch again")
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.page.wait_for_timeout(500)
    assert (len(held), shared.pins_given) == (1, [])
    held.pop().continue_()
    tablet.see("Wes Tonkin has this tablet.")
    assert shared.pins_given == [PINS["Wes Tonkin"]]


def test_a_call_that_never_ends_keeps_nobody_from_the_tablet(tablet: Tablet, shared: Yard) -> None:
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    hold(tablet.page, "**/sync/reference")
    tablet.tap("Fetch again")
    change_to(tablet, "Wes Tonkin", PINS["Wes Tonkin"])
    tablet.see("Wes Tonkin has this tablet.")
