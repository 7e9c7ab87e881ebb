"""Somebody at a screen: a browser of one size, what it complained of, and what axe finds on its page."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, ViewportSize, expect

from config.demo.yard import PASSWORD

SIZES = {
    "desk": ViewportSize(width=1366, height=900),
    "tablet": ViewportSize(width=1024, height=768),
    "tablet upright": ViewportSize(width=768, height=1024),
    "phone": ViewportSize(width=390, height=844),
}
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
}
PATIENCE_MS = 20_000
WORKER_PATIENCE_MS = 90_000


class Visitor:
    """One browser of its own. `complaints` gathers what a page's scripts, its policy or its console had to say."""

    def __init__(self, browser: Browser, address: str, size: str) -> None:
        self.who = "nobody"
        self.address = address
        self.complaints: list[str] = []
        self._expected: set[int] = set()
        self._cut_off = False
        has_touch = size != "desk"
        self.context = browser.new_context(
            viewport=SIZES[size],
            has_touch=has_touch,
            locale="en-AU",
            timezone_id="Australia/Adelaide",
            accept_downloads=True,
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page = self._new_page()

    def _new_page(self) -> Page:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._heard)
        return page

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        refused = any(f"status of {status} " in message.text for status in self._expected)
        unanswered = self._cut_off and "net::ERR_" in message.text
        if not (refused or unanswered):
            self.complaints.append(f"{self.page.url}: {message.text}")

    @contextmanager
    def without_signal(self) -> Iterator[None]:
        """The browser says in its console that nobody answers; here that is what is meant to happen."""
        self._cut_off = True
        yield
        self._hears_out()
        self._cut_off = False

    @contextmanager
    def refused_with(self, status: int) -> Iterator[None]:
        """The browser reports a page answered with this status in its console; here that is what is meant to happen."""
        self._expected.add(status)
        yield
        self._hears_out()
        self._expected.discard(status)

    def _hears_out(self) -> None:
        """What the console said before this has been heard after it."""
        self.page.evaluate("0")

    def sign_in(self, who: str) -> None:
        self.who = who
        self.open("/sign-in/")
        self.page.get_by_label("Sign-in name").fill(who)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.press("Sign in")
        expect(self.page).not_to_have_url(f"{self.address}/sign-in/")

    def open(self, path: str) -> None:
        self.page.goto(path if path.startswith("http") else f"{self.address}{path}")

    def reopens(self, path: str) -> None:
        """Shuts the page as it stands, and opens an address in a new one of the same browser."""
        self.page.close()
        self.page = self._new_page()
        self.open(path)

    def awaits(self, path: str, is_there: Callable[[], bool]) -> None:
        """Opens a page each second until it shows what a worker has yet to do."""
        for _ in range(WORKER_PATIENCE_MS // 1_000):
            self.open(path)
            if is_there():
                return
            self.page.wait_for_timeout(1_000)
        raise AssertionError(f"{self.page.url} does not show what was awaited of the worker.")

    def press(self, name: str, *, exact: bool = True) -> None:
        self.page.get_by_role("button", name=name, exact=exact).click()

    def follow(self, name: str, *, exact: bool = True) -> None:
        link, before = self.page.get_by_role("link", name=name, exact=exact).first, self.page.url
        leads_out = not (link.get_attribute("href") or "#").startswith("#") and not link.get_attribute(
            "target"
        )
        link.click()
        # The tablet's page asks first whether the yard is there.
        if leads_out and "/check/" in before:
            self.page.wait_for_url(lambda url: url != before)

    def sees(self, words: str) -> None:
        expect(self.page.locator("main")).to_contain_text(words)

    def sees_not(self, words: str) -> None:
        expect(self.page.locator("main")).not_to_contain_text(words)

    def draw_name(self, pad: Locator) -> None:
        """Draws two strokes on a signature pad, as a finger would."""
        pad.scroll_into_view_if_needed()
        box = pad.bounding_box()
        assert box is not None
        hand = self.page.mouse
        for left, top in ((0.15, 0.7), (0.5, 0.6)):
            hand.move(box["x"] + box["width"] * left, box["y"] + box["height"] * top)
            hand.down()
            for step in range(1, 7):
                up = 0.35 if step % 2 else 0
                hand.move(
                    box["x"] + box["width"] * (left + 0.05 * step), box["y"] + box["height"] * (top - up)
                )
            hand.up()

    def finds_nothing_wrong(self) -> None:
        """Axe finds nothing on the page as it stands, and nothing runs off its side."""
        found = Axe().run(self.page, options=RULES).response
        faults = [
            f"{self.page.url} {fault['id']}: {node['html'][:160]}"
            for fault in found["violations"]
            for node in fault["nodes"]
        ]
        assert not faults, "\n".join(faults)
        assert len(found["passes"]) > 10
        assert self.page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, self.page.url

    def close(self) -> None:
        self.context.close()
