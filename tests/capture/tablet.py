"""A tablet in a hand: the steps of a walk by the words on the buttons, so that a test reads like the walk."""

import io
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Locator, Page, Route, ViewportSize, expect

from tests.capture.standin import ROOT
from tests.capture.standin_reference import CART_IDS

TABLET = ViewportSize(width=1024, height=768)
SIZES = {
    "tablet on its side": TABLET,
    "tablet upright": ViewportSize(width=768, height=1024),
    "phone": ViewportSize(width=390, height=844),
}


def camera_jpeg(*, width: int = 2400, height: int = 1800, turned: int = 1) -> bytes:
    """A picture as a camera writes it: red left half, blue right half, `turned` as its EXIF orientation, and a place.

    The halves are those of the stored pixels; orientation 6 shows red at the top.
    """
    picture = Image.new("RGB", (width, height), "#c00000")
    picture.paste("#0000c0", (width // 2, 0, width, height))
    exif = Image.Exif()
    exif[0x0112] = turned
    exif[0x010F] = "Camera maker"
    exif.get_ifd(0x8825)[1] = "S"
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif, quality=90)
    return out.getvalue()


class Tablet:
    """The capture page on one tablet. `stumbles` gathers every error a script of the page throws."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address
        self.stumbles: list[str] = []
        page.on("pageerror", lambda error: self.stumbles.append(str(error)))

    def open(self, fragment: str = "") -> None:
        """Opens the page, or goes to another place of it as a scanned plate would."""
        self.page.goto(f"{self.address}/check/{fragment}")

    def button(self, name: str, *, exact: bool = True) -> Locator:
        return self.page.get_by_role("button", name=name, exact=exact)

    def tap(self, name: str, *, exact: bool = True) -> None:
        self.button(name, exact=exact).click()

    def at(self, heading: str) -> None:
        """Waits until this heading is on the screen."""
        expect(self.page.get_by_role("heading", name=heading, exact=True)).to_be_visible()

    def see(self, words: str) -> None:
        expect(self.page.locator("#page")).to_contain_text(words)

    def start(self, purpose: str = "Daily pre-start", cart: str = "WC 07") -> None:
        """From nothing to the first check of a walk."""
        self.open(f"#cart={CART_IDS[cart]}")
        self.tap(purpose, exact=False)
        self.page.get_by_role("button", name="Start: ").click()
        self.page.locator("h2").wait_for()

    def enter(self, figures: str) -> None:
        """Presses the keys of the number pad."""
        for figure in figures:
            self.tap("Decimal point" if figure == "." else figure)

    def measure(self, value: str, unit: str = "mm") -> None:
        self.enter(value)
        self.tap(f"Save {value} {unit}")

    def photograph(self, content: bytes | None = None) -> None:
        """Takes one picture with the tablet's camera and waits until it is kept."""
        before = self.page.locator(".thumb").count()
        file = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": content or camera_jpeg()}
        self.page.locator("#camera").set_input_files(file)  # type: ignore[arg-type]
        expect(self.page.locator(".thumb")).to_have_count(before + 1)

    def photograph_picked(self) -> None:
        """Takes the photo of a look that the yard's lot fell on; its answers come after it."""
        file = {"name": "IMG_2.jpg", "mimeType": "image/jpeg", "buffer": camera_jpeg()}
        self.page.locator(".photo-first #camera").set_input_files(file)  # type: ignore[arg-type]
        expect(self.page.locator(".picked-photos img")).to_be_visible()

    def walk_gate_out(self) -> None:
        """The short sheet, all of it good, up to the page before signing."""
        self.start("Gate-out check")
        self.at("Wheel nuts")
        self.tap("Good")
        self.at("Tread depth, outer")
        self.measure("8")
        self.tap("Start: Seat and start")
        self.at("Seat belt")
        self.tap("Good")
        self.at("Check your answers")

    def sign(self, name: str = "Ira Pell") -> None:
        """Signs with a typed name and lets it be sent."""
        self.tap("These are right: go and sign")
        self.tap("Type my name")
        self.page.get_by_label("Type your name").fill(name)
        self.tap("Sign and send")

    def run(self, script: str, argument: Any = None) -> Any:
        return self.page.evaluate(script, argument)

    def hide(self) -> None:
        """Another app comes to the front."""
        self._visible("hidden")

    def show(self) -> None:
        """The page comes back to the front."""
        self._visible("visible")

    def _visible(self, state: str) -> None:
        self.run(
            """(state) => {
                Object.defineProperty(document, "hidden", { configurable: true, get: () => state === "hidden" });
                document.dispatchEvent(new Event("visibilitychange"));
            }""",
            state,
        )

    def accessibility_faults(self) -> list[str]:
        """What axe finds on the screen as it stands."""
        found = Axe().run(self.page).response["violations"]
        return [f"{one['id']}: {node['html'][:120]}" for one in found for node in one["nodes"]]

    def hidden_below_px(self) -> tuple[int, int]:
        """How far the screen runs past the glass, to the right and below."""
        right, below = self.run(
            """() => [document.documentElement.scrollWidth - innerWidth,
                      document.documentElement.scrollHeight - innerHeight]"""
        )
        return right, below


def with_store(page: Page, put: str) -> None:
    """Gives the page a store that runs this script before it keeps anything; `key` is what is to be kept."""
    source = (ROOT / "static" / "capture" / "store.js").read_text(encoding="utf-8")
    before = "async function commit(changes, { unless = [] } = {}) {"
    assert before in source

    def serve(route: Route) -> None:
        route.fulfill(
            content_type="text/javascript",
            body=source.replace(before, f"{before}\nfor (const [, key] of changes) {{ {put} }}", 1),
        )

    page.route("**/static/capture/store.js", serve)
