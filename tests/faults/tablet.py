"""A tablet that can be switched off, knocked dead and switched on again with everything it kept."""

from __future__ import annotations

import json
import os
import signal
from contextlib import suppress
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, expect
from playwright.sync_api import Error as BrowserError

from config.demo.yard import PASSWORD
from tests.chromium import ARGUMENTS, CHROMIUM

PATIENCE_MS = 30_000
PARCELS = """async () => {
    const open = indexedDB.open("slake-yard");
    const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
    const all = db.transaction("outbox").objectStore("outbox").getAll();
    const found = await new Promise((done) => { all.onsuccess = () => done(all.result); });
    db.close();
    return JSON.stringify(found);
}"""


class KnockedTablet:
    """One tablet on one road to the yard. `page` is the page in front."""

    def __init__(self, browser: Browser, folder: Path, address: str) -> None:
        self.browser, self.folder, self.address = browser, folder, address
        self.context: BrowserContext | None = None
        self.stumbles: list[str] = []
        # How senders that are no browser speak for this tablet, where a test needs them.
        self.known: dict[str, str] = {}

    def on(self) -> Page:
        self.context = self.browser.browser_type.launch_persistent_context(
            self.folder,
            executable_path=CHROMIUM,
            args=ARGUMENTS,
            viewport={"width": 1024, "height": 768},
            has_touch=True,
            locale="en-AU",
            timezone_id="Australia/Adelaide",
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page = self.context.pages[0]
        self.page.on("pageerror", lambda error: self.stumbles.append(str(error)))
        return self.page

    def sign_in(self, who: str) -> None:
        self.page.goto(f"{self.address}/sign-in/?next=/check/")
        self.page.get_by_label("Sign-in name").fill(who)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in", exact=True).click()

    def open(self) -> None:
        self.page.goto(f"{self.address}/check/")

    def sees(self, words: str, *, within_ms: int = PATIENCE_MS) -> None:
        expect(self.page.locator("#page")).to_contain_text(words, timeout=within_ms)

    def off(self) -> None:
        if self.context:
            with suppress(BrowserError):
                self.context.close()
            self.context = None

    def knock_dead(self) -> None:
        """Kills every process of the browser at once, with whatever it was doing."""
        for entry in Path("/proc").iterdir():
            if not entry.name.isdigit():
                continue
            with suppress(OSError):
                if str(self.folder).encode() in (entry / "cmdline").read_bytes():
                    os.kill(int(entry.name), signal.SIGKILL)
        self.off()

    def close_tab(self) -> None:
        """The tab goes, and a new one comes."""
        assert self.context
        old, self.page = self.page, self.context.new_page()
        self.page.on("pageerror", lambda error: self.stumbles.append(str(error)))
        old.close()

    def parcels(self) -> list[dict[str, Any]]:
        """What the tablet's outbox holds."""
        found: list[dict[str, Any]] = json.loads(self.page.evaluate(PARCELS))
        return found

    # What tests/journeys/walk.py asks of whoever walks.
    def finds_nothing_wrong(self) -> None:
        """Other journeys look at these pages."""
