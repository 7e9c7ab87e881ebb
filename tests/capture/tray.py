"""A tablet that can be switched off and on again with everything it kept."""

from pathlib import Path

from playwright.sync_api import Browser, BrowserContext

from tests.capture.tablet import TABLET, Tablet
from tests.chromium import ARGUMENTS, CHROMIUM


def tablet_of(browser: Browser, folder: Path) -> BrowserContext:
    """A tablet whose browser keeps its things in a folder, so that it can be switched off and on."""
    context = browser.browser_type.launch_persistent_context(
        folder,
        executable_path=CHROMIUM,
        args=ARGUMENTS,
        viewport=TABLET,
        has_touch=True,
        locale="en-AU",
        timezone_id="Australia/Adelaide",
    )
    context.set_default_timeout(10_000)
    return context


class Tray:
    """Where the tablet is switched on and off."""

    def __init__(self, browser: Browser, folder: Path, address: str) -> None:
        self.browser, self.folder, self.address = browser, folder, address
        self.context: BrowserContext | None = None

    def on(self, fragment: str = "") -> Tablet:
        self.context = tablet_of(self.browser, self.folder)
        tablet = Tablet(self.context.pages[0], self.address)
        tablet.open(fragment)
        return tablet

    def off(self) -> None:
        if self.context:
            self.context.close()
            self.context = None
