"""A disk that fails under the browser, full to its last byte for instance: its store is let go of, and the page works on."""

import pytest
from playwright.sync_api import expect

from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey

LETS_GO = """() => {
    const real = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function transaction(...given) {
        IDBDatabase.prototype.transaction = real;
        setTimeout(() => this.dispatchEvent(new Event("close")));
        this.close();
        return real.apply(this, given);
    };
}"""


def test_a_store_the_browser_lets_go_of_is_opened_again(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.run(LETS_GO)
    tablet.tap("Good")
    tablet.see("Not kept: there was no room for it.")
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "false")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")


def test_a_disk_that_fails_at_the_start_is_not_taken_for_an_empty_one(tablet: Tablet) -> None:
    tablet.page.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('no', 'UnknownError'); };"
    )
    tablet.open()
    tablet.see("This tablet’s disk is full, or failing. What was kept on it can’t be read now")


def test_a_store_that_is_begun_anew_in_anothers_place_is_told_of(tablet: Tablet) -> None:
    tablet.open()
    tablet.see("The yard has everything signed on this tablet.")
    expect(tablet.page.get_by_text("What was kept on this tablet is gone")).to_have_count(0)
    tablet.page.goto(f"{tablet.address}/blank/")
    tablet.run("() => new Promise((done) => { indexedDB.deleteDatabase('slake-yard').onsuccess = done; })")
    tablet.open()
    tablet.see("What was kept on this tablet is gone: its disk failed, or was cleared.")


@pytest.mark.parametrize(
    ("quota", "words"),
    [
        (30_000_000, "Room for 0 more walk-rounds."),
        (95_000_000, "Room for 3 more walk-rounds."),
        (10**10, "Room for over 100 more walk-rounds."),
    ],
)
def test_the_room_there_is_stands_in_walk_rounds(tablet: Tablet, quota: int, words: str) -> None:
    tablet.page.add_init_script(f"navigator.storage.estimate = async () => ({{ quota: {quota}, usage: 0 }});")
    tablet.open()
    tablet.see(words)
