"""A person walking a cart with the tablet: every look answered by the buttons on the screen, as fast as they come."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import expect

from config.demo.pictures import photo
from tests.journeys.visitor import PATIENCE_MS, Visitor

# A likely gauge reading for each unit; a limit, where there is one, decides instead.
_READINGS = {"psi": "100", "kPa": "800", "eighths": "6"}
# Pictures of the demo's own have the numbers below.
LOT_PICTURES = 9000


@dataclass
class Finding:
    """Something found wrong: at the first look of this check, how bad, in whose words, with a photo."""

    check: str
    grade: str
    words: str
    photo: bytes
    where: str = field(default="", init=False)


class Walk:
    """One walk-round of one cart on the capture page."""

    def __init__(
        self, visitor: Visitor, fleet_number: str, meters: Mapping[str, str], *, hire: str = ""
    ) -> None:
        self.visitor, self.page = visitor, visitor.page
        who = {"Slake-Hire": hire} if hire else {}
        answer = visitor.page.request.get(f"{visitor.address}/sync/reference", headers=who)
        self.reference: dict[str, Any] = answer.json()
        self.cart = next(one for one in self.reference["carts"] if one["fleet_number"] == fleet_number)
        self.meters = dict(meters)
        self.pictures = 0

    def begin(self, purpose: str) -> None:
        """Starts a purpose from the cart's page, where the plate leads."""
        label = self.reference["purposes"][purpose]["label"]
        self.items = self.cart["sheets"][purpose]["items"]
        self.page.get_by_role("button", name=label).click()
        self.page.locator(".screen-pass").wait_for()

    def answer_all(self, finding: Finding | None = None) -> int:
        """Answers every look and gives how many there were. What `finding` names is found wrong, the rest is sound."""
        looks = 0
        while self.answer_next(finding):
            looks += 1
        return looks

    def answer_next(self, finding: Finding | None = None) -> int | None:
        """Answers the look in front and gives its number once the page has gone on from it; None when all are answered."""
        while True:
            screen = self.page.locator("#page").get_attribute("class") or ""
            if "screen-review" in screen:
                return None
            if "screen-pass" not in screen:
                break
            self.page.locator(".main-choice").click()
            self.page.locator("#page:not(.screen-pass)").wait_for()
        before, item = self.page.url, self._item()
        if finding and not finding.where and item["check"] == finding.check:
            self._wrong(finding)
        else:
            self._sound(item)
        gone_on = "(before) => location.href !== before && !location.hash.includes('page=wrong')"
        self.page.wait_for_function(gone_on, arg=before)
        return self.items.index(item) + 1

    def _item(self) -> dict[str, Any]:
        found = re.search(r"at=(\d+)", self.page.url)
        assert found, self.page.url
        return self.items[int(found.group(1)) - 1]

    def _sound(self, item: dict[str, Any]) -> None:
        check, page = self.reference["checks"][item["check"]], self.page
        if page.locator(".photo-first").count():
            self._photograph()
        elif (
            page.locator(".question-photos #take").count()
            and not page.locator(".question-photos .thumb").count()
        ):
            page.get_by_role("button", name="No camera", exact=True).click()
        if check["answer"] == "measure":
            for figure in self._value(item, check):
                name = "Decimal point" if figure == "." else figure
                page.locator(".number-pad").get_by_role("button", name=name, exact=True).click()
            page.locator("button.save").click()
        elif check["answer"] == "date":
            page.locator(".year-row [data-key]").last.click()
            page.locator(".month-pad [data-key='06']").click()
            page.locator("button.save").click()
        elif check["answer"] == "choice":
            sound = next(one["label"] for one in check["choices"] if one["grade"] is None)
            page.locator(".choices").get_by_role("button", name=sound, exact=True).click()
        else:
            page.locator("button.answer-good").click()

    def _photograph(self) -> None:
        """The yard's lot fell on this look. No two pictures are alike."""
        self.pictures += 1
        content = photo(LOT_PICTURES + self.pictures)
        file = {"name": "IMG_0500.jpg", "mimeType": "image/jpeg", "buffer": content}
        self.page.locator(".photo-first #camera").set_input_files(file)  # type: ignore[arg-type]
        expect(self.page.locator(".picked-photos img")).to_be_visible(timeout=PATIENCE_MS)

    def _value(self, item: dict[str, Any], check: dict[str, Any]) -> str:
        limit = item["limit"]
        if item["check"] in self.meters:
            return self.meters[item["check"]]
        if limit is None:
            return _READINGS[check["unit"]]
        low = float(limit["value"])
        if limit["high"] is not None:
            return f"{(low + float(limit['high'])) / 2:.1f}"
        return f"{low * 1.5:.1f}" if limit["op"].startswith(">") else f"{low * 0.5:.1f}"

    def _wrong(self, finding: Finding) -> None:
        page = self.page
        finding.where = page.locator("h1").inner_text()
        page.locator("button.answer-wrong").click()
        page.locator(".screen-wrong").wait_for()
        page.locator(f"#grade-{finding.grade}").click()
        expect(page.locator(f"#grade-{finding.grade}")).to_have_attribute("aria-pressed", "true")
        photo = {"name": "IMG_0412.jpg", "mimeType": "image/jpeg", "buffer": finding.photo}
        page.locator("#camera").set_input_files(photo)  # type: ignore[arg-type]
        expect(page.locator(".thumb img")).to_be_visible(timeout=PATIENCE_MS)
        page.locator("#words").fill(finding.words)
        # On a phone the foot lies over what is scrolled under it.
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        self.visitor.finds_nothing_wrong()
        page.get_by_role("button", name="Save what’s wrong", exact=True).click()

    def go_and_sign(self) -> None:
        self.page.get_by_role("button", name="These are right: go and sign", exact=True).click()
        self.page.locator(".screen-sign").wait_for()

    def sign_by_drawing(self) -> None:
        self.go_and_sign()
        self.page.locator("#way-drawn").click()
        self.visitor.draw_name(self.page.locator(".pad canvas"))
        self.visitor.finds_nothing_wrong()
        self._send()

    def sign_by_typing(self, name: str) -> None:
        self.go_and_sign()
        self.page.locator("#way-typed").click()
        self.page.locator("#signed-name").fill(name)
        self.visitor.finds_nothing_wrong()
        self._send()

    def _send(self) -> None:
        self.page.get_by_role("button", name="Sign and send", exact=True).click()
        self.page.locator(".outcome").wait_for(timeout=3 * PATIENCE_MS)
