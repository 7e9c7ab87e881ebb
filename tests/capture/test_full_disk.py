"""A disk that is really full: the browser lets go of its store, the page says so and works on, and room mends it all.

The quota the protocol can set for an origin does not reach what this browser writes to its store, so the tablet's folder lies on a
disk of its own which the test fills to the last byte. Making one wants the right to mount; without it the test is left out.
"""

import shutil
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.capture.standin import ROOT, Yard
from tests.capture.standin_reference import CART_IDS
from tests.capture.tablet import Tablet
from tests.capture.tray import Tray

pytestmark = pytest.mark.journey

NOT_KEPT = "Not kept: the tablet had no room for it."
FULL_DISK = (ROOT / "tests" / "capture" / "full_disk.js").read_text(encoding="utf-8")
# The last bytes a full disk has, in blocks begun before it was full.
LAST_BYTES = """async () => {
    const open = indexedDB.open("slake-yard");
    const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
    const isKept = () => new Promise((done) => {
        const work = db.transaction("reference", "readwrite", { durability: "strict" });
        work.objectStore("reference").put(crypto.getRandomValues(new Uint8Array(500)), `lap:${Math.random()}`);
        Object.assign(work, { oncomplete: () => done(true), onabort: () => done(false) });
    });
    while (await isKept());
    db.close();
}"""
LETS_GO = """() => {
    const real = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function transaction(...given) {
        IDBDatabase.prototype.transaction = real;
        setTimeout(() => this.dispatchEvent(new Event("close")));
        this.close();
        return real.apply(this, given);
    };
}"""


class SmallDisk:
    """A disk that a test fills and empties. While it is full, what the browser gives up is taken at once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._filler = folder / "filler"
        self._emptied = threading.Event()
        self._filling: threading.Thread | None = None

    def _fill_up(self) -> None:
        with self._filler.open("wb", buffering=0) as filler:
            while not self._emptied.wait(0.005):
                for size in (65_536, 64, 1):
                    with suppress(OSError):
                        while True:
                            filler.write(b"x" * size)

    def fill(self) -> None:
        self._emptied.clear()
        self._filling = threading.Thread(target=self._fill_up, daemon=True)
        self._filling.start()
        while shutil.disk_usage(self.folder).free:
            self._emptied.wait(0.01)

    def empty(self) -> None:
        self._emptied.set()
        if self._filling:
            self._filling.join()
        self._filler.unlink(missing_ok=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    folder = tmp_path / "disk"
    folder.mkdir()
    made = subprocess.run(
        ["/usr/bin/mount", "-t", "tmpfs", "-o", "size=160m", "tmpfs", folder],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("This machine gives no disk of its own to fill.")
    yield SmallDisk(folder)
    subprocess.run(["/usr/bin/umount", "-l", folder], check=True)


@pytest.fixture
def tray(browser: Browser, disk: SmallDisk, served: tuple[str, Yard]) -> Iterator[Tray]:
    tray = Tray(browser, disk.folder / "tablet", served[0])
    yield tray
    disk.empty()
    tray.off()


def walked(tablet: Tablet) -> dict[str, str]:
    """What the store has of walks and records."""
    found = tablet.run("fullDisk.kept()")
    return {key: value for key, value in found.items() if not key.startswith(("lap:", "reference:"))}


def test_a_disk_full_in_the_middle_of_a_walk_costs_nothing(tray: Tray, disk: SmallDisk, yard: Yard) -> None:
    tablet = tray.on(f"#cart={CART_IDS['WC 07']}")
    tablet.see("What are you doing?")
    tablet.run(FULL_DISK)

    def refused(tap: Callable[[], None], words: str) -> None:
        before = walked(tablet)
        disk.fill()
        tablet.run(LAST_BYTES)
        tap()
        tablet.see(words)
        disk.empty()
        assert walked(tablet) == before

    refused(lambda: tablet.tap("Gate-out check", exact=False), "Not begun: this tablet could not keep it.")
    tablet.tap("Gate-out check", exact=False)
    tablet.tap("Start: Key-out lap")
    tablet.at("Wheel nuts")
    refused(lambda: tablet.tap("Good"), NOT_KEPT)
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")
    tablet.tap("These are right: go and sign")
    tablet.tap("Type my name")
    tablet.page.get_by_label("Type your name").fill("Ira Pell")
    refused(lambda: tablet.tap("Sign and send"), "Not signed: the tablet had no room to keep it.")
    assert yard.records == {}
    tablet.tap("Sign and send")
    tablet.at("Right to go")
    assert len(yard.records) == 1
    assert tablet.stumbles == []


def test_a_page_opened_on_a_full_disk_has_what_was_kept(tray: Tray, disk: SmallDisk) -> None:
    tablet = tray.on(f"#cart={CART_IDS['WC 07']}")
    tablet.tap("Gate-out check", exact=False)
    tablet.tap("Start: Key-out lap")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    tray.off()
    disk.fill()
    tablet = tray.on()
    tablet.see("1 walk-round begun.")
    tablet.see("There is no room left on this tablet to keep it.")
    disk.empty()
    tablet.tap("Fetch again")
    tablet.see("List from the yard")
    assert tablet.stumbles == []


def test_a_store_the_browser_lets_go_of_is_opened_again(tablet: Tablet) -> None:
    tablet.start("Gate-out check")
    tablet.run(LETS_GO)
    tablet.tap("Good")
    tablet.see(NOT_KEPT)
    expect(tablet.button("Good")).to_have_attribute("aria-pressed", "false")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")


def test_a_disk_that_fails_at_the_start_is_not_taken_for_an_empty_one(tablet: Tablet) -> None:
    tablet.page.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('no', 'UnknownError'); };"
    )
    tablet.open()
    tablet.see(
        "This tablet’s disk is full, or failing. What was kept on it can’t be read now and is not lost"
    )
