"""A disk that is full at one write of a walk, whichever it is: nothing is half kept, it is said, and the same tap works.

Every write the page makes from the first list to the photos it lets go of is counted, and each fails once: in the first walk
the first write of every step, in the second walk the second, and so on.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.capture.standin import ROOT, Yard, standin
from tests.capture.tablet import TABLET, Tablet, camera_jpeg

pytestmark = pytest.mark.journey

FULL_DISK = (ROOT / "tests" / "capture" / "full_disk.js").read_text(encoding="utf-8")
PICTURE: Any = {
    "name": "IMG_1.jpg",
    "mimeType": "image/jpeg",
    "buffer": camera_jpeg(width=400, height=300),
}
# What is kept together, by the first word of its keys: all of it in one change, or none.
ANSWER = frozenset({"answer", "draft"})
SEALED = frozenset({"parcel", "walk", "sheet", "answer", "draft"})
HEAD, DRAFT, PARCEL = frozenset({"walk"}), frozenset({"draft"}), frozenset({"parcel"})
# The list, who has the tablet, and the plans one by one.
LIST = (*[frozenset({"reference"})] * 2, *[frozenset({"lap"})] * 2)
# A list asked for in one step may still be coming in the next, where the tablet is slow.
COMES_LATE = frozenset({"reference", "lap"})
MOST_LOOKS = 200


@dataclass(frozen=True)
class Step:
    """One tap. `units` are the changes it makes, in order; `words` what is on the screen when the disk refuses it."""

    name: str
    act: Callable[["Stubborn"], None]
    is_done: Callable[["Stubborn"], bool]
    units: tuple[frozenset[str], ...] = ()
    words: str = ""

    @property
    def spared(self) -> list[str]:
        """What belongs to a step before this one and is neither counted nor refused here."""
        return sorted(COMES_LATE - frozenset().union(*self.units))


class Stubborn:
    """A tablet whose disk refuses one write, and a hand that tries the same tap again."""

    def __init__(self, page: Page, address: str, yard: Yard) -> None:
        self.tablet, self.page, self.yard = Tablet(page, address), page, yard
        self.begun: list[tuple[str, int]] = []
        self.refused: set[str] = set()

    def has(self, selector: str) -> bool:
        return self.page.locator(selector).count() > 0

    def writes(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.page.evaluate("window.fullDisk?.writes ?? []")
        return found

    def written(self) -> dict[str, int]:
        """How many writes each step came to, but for what goes on by itself: plans come one by one, and not always all."""
        writes = self.writes()
        ends = [so_far for _, so_far in self.begun[1:]] + [len(writes)]
        apart = {step.name: {"lap", *step.spared} for step in STEPS}
        return {
            name: sum(one["key"].split(":")[0] not in apart[name] for one in writes[so_far:end])
            for (name, so_far), end in zip(self.begun, ends, strict=True)
        }

    def failed(self) -> dict[str, Any] | None:
        found: dict[str, Any] | None = self.page.evaluate("window.fullDisk?.failed ?? null")
        return found

    def kept(self) -> dict[str, str]:
        found: dict[str, str] = self.page.evaluate("window.fullDisk?.kept() ?? {}")
        return found

    def parcel(self) -> dict[str, Any]:
        (text,) = [value for key, value in self.kept().items() if key.startswith("parcel:")]
        found: dict[str, Any] = json.loads(text)
        return found

    def walks_through(self) -> None:
        """From nothing to the photos let go of, whatever the disk refuses."""
        for step in STEPS:
            try:
                self.takes(step)
            except Exception as error:
                error.add_note(f"{step.name}: refused {self.failed()}")
                raise
        assert self.tablet.stumbles == []
        ((name, body),) = self.yard.records.items()
        parcel = self.parcel()
        assert (parcel["id"], parcel["sha256"]) == (name, hashlib.sha256(body).hexdigest())
        answers = json.loads(body)["answers"]
        assert [one["answer"] for one in answers] == ["wrong", "good", "could_not_check"]
        assert answers[0]["photos"] == list(self.yard.photos)
        assert [key.split(":")[0] for key in self.kept() if not key.startswith(("lap", "reference"))] == [
            "parcel"
        ]

    def takes(self, step: Step) -> None:
        before = self._before()
        # What comes late still belongs to the step before.
        self.begun.append((step.name, len(self.writes())))
        self.page.evaluate("kinds => window.fullDisk?.next(kinds)", step.spared)
        step.act(self)
        self._waits(step)
        failed = self.failed()
        if not failed:
            return
        self.refused.add(step.name)
        kind = failed["key"].split(":")[0]
        self.is_whole(step, kind, before)
        if step.is_done(self):
            if kind == "walk" and HEAD in step.units:
                expect(self.page.locator("#page")).to_contain_text(NO_PLACE)
            return
        assert step.words
        expect(self.page.locator("#page")).to_contain_text(step.words)
        step.act(self)
        self._waits(step, again=True)

    def is_whole(self, step: Step, kind: str, before: dict[str, str]) -> None:
        """What changed belongs to the changes that were made, and nothing to the one that was refused."""
        assert any(kind in unit for unit in step.units), f"{step.name} wrote {kind}"
        others = [unit for unit in step.units if kind not in unit]
        if sum(kind in unit for unit in step.units) > 1:
            others.append(frozenset({kind}))
        after = self.kept()
        changed = {key for key in {*before, *after} if before.get(key) != after.get(key)}
        half = {
            key
            for key in changed
            if (word := key.split(":")[0]) not in step.spared and not any(word in unit for unit in others)
        }
        assert not half, f"{step.name} left half a change behind: {sorted(half)}"

    def _before(self) -> dict[str, str]:
        return self.kept() if self.page.url != "about:blank" else {}

    def _waits(self, step: Step, *, again: bool = False) -> None:
        """Until the step is done or, the first time, refused, and the page writes no more."""
        writes = -1
        for _ in range(MOST_LOOKS):
            self.page.wait_for_timeout(50)
            over = step.is_done(self) or (self.failed() and not again)
            now = len(self.writes())
            if over and now == writes:
                return
            writes = now
        raise AssertionError(f"{step.name}: neither done nor refused")


def taps(name: str) -> Callable[[Stubborn], None]:
    return lambda hand: hand.tablet.tap(name)


def shows(selector: str) -> Callable[[Stubborn], bool]:
    return lambda hand: hand.has(selector)


def fetches(hand: Stubborn) -> None:
    if hand.page.url == "about:blank":
        hand.tablet.open()
    else:
        hand.tablet.tap("Fetch again")


def has_its_list(hand: Stubborn) -> bool:
    plans = [one for one in hand.writes() if one["key"].startswith("lap:")]
    return hand.has(".cart-row") and len(plans) >= len(hand.yard.reference["carts"])


def photographs(hand: Stubborn) -> None:
    hand.page.locator("#camera").set_input_files(PICTURE)


def measures(hand: Stubborn) -> None:
    if not hand.page.locator("#value").input_value():
        hand.tablet.enter("8")
    hand.tablet.tap("Save 8 mm")


def signs(hand: Stubborn) -> None:
    hand.yard.cut = True
    hand.tablet.tap("Type my name")
    hand.page.get_by_label("Type your name").fill("Ira Pell")
    hand.tablet.tap("Sign and send")


def sends(hand: Stubborn) -> None:
    hand.yard.cut = False
    hand.tablet.tap("Send now")


def signal_comes(hand: Stubborn) -> None:
    hand.page.evaluate("dispatchEvent(new Event('online'))")


def a_week_goes_by(hand: Stubborn) -> None:
    hand.yard.reference["server_time"] = "2026-12-05T00:00:00Z"
    signal_comes(hand)


NOT_KEPT = "Not kept: there was no room for it."
NO_PLACE = "There was no room to note where you are."
NO_ROOM = "There is no room left on this tablet"
STEPS = [
    Step("the list comes", fetches, has_its_list, LIST, NO_ROOM),
    Step("to the cart", lambda hand: hand.page.get_by_role("link", name="WC 07").click(), shows(".purpose")),
    Step(
        "a walk begins",
        lambda hand: hand.tablet.tap("Gate-out check", exact=False),
        shows(".screen-pass"),
        (frozenset({"sheet", "walk"}),),
        "Not begun: it could not be kept here. Try again.",
    ),
    Step("part 1", taps("Start: Key-out lap"), shows(".screen-check"), (HEAD, HEAD)),
    Step("wrong", taps("Something’s wrong"), shows(".screen-wrong"), (DRAFT,), NOT_KEPT),
    Step("grade", taps("Do not use"), shows("#grade-do_not_use[aria-pressed=true]"), (DRAFT,), NOT_KEPT),
    Step(
        "words",
        taps("loose"),
        lambda hand: any("loose" in value for key, value in hand.kept().items() if key.startswith("draft:")),
        (DRAFT,),
        NOT_KEPT,
    ),
    Step("photo", photographs, shows(".thumb img[src]"), (frozenset({"photo"}), DRAFT), "ot kept"),
    Step("fault", taps("Save what’s wrong"), shows(".number-pad"), (ANSWER, HEAD), NOT_KEPT),
    Step("value", measures, shows(".screen-pass"), (ANSWER, HEAD), NOT_KEPT),
    Step("part 2", taps("Start: Seat and start"), shows(".screen-check"), (HEAD, HEAD)),
    Step("not looked at", taps("Couldn’t check"), shows(".screen-why")),
    Step("why", taps("Too dark"), shows(".screen-review"), (ANSWER,), NOT_KEPT),
    Step("to the signature", taps("These are right: go and sign"), shows(".screen-sign")),
    Step(
        "signature",
        signs,
        shows("h1:text('Not sent yet')"),
        (SEALED,),
        "Not signed: there was no room to keep it. Your answers are safe. Try again.",
    ),
    Step("sending", sends, shows("h1:text('Right to go')"), (PARCEL, PARCEL, *LIST), NO_ROOM),
    Step("next", taps("Next cart"), shows(".cart-row")),
    Step(
        "asked again whether the yard has it",
        signal_comes,
        lambda hand: hand.parcel()["held_at"] is not None,
        (PARCEL, *LIST),
        "The yard received it",
    ),
    Step(
        "a week later",
        a_week_goes_by,
        lambda hand: "emptied_at" in hand.parcel(),
        (frozenset({"photo", "parcel"}), *LIST),
        "The yard received it",
    ),
]


def walked(browser: Browser, armed: dict[str, Any] | None) -> tuple[dict[str, int], set[str]]:
    """One whole walk on a new tablet: how many writes each step came to, and in which of them one was refused."""
    with standin() as (address, yard):
        context = browser.new_context(viewport=TABLET, has_touch=True, service_workers="block")
        context.add_init_script("Math.random = () => 5000;")
        context.add_init_script(FULL_DISK)
        context.add_init_script(f"fullDisk.armed = {json.dumps(armed)};")
        context.set_default_timeout(5_000)
        hand = Stubborn(context.new_page(), address, yard)
        try:
            hand.walks_through()
            if not armed:
                kinds = {one["key"].split(":")[0] for one in hand.writes()}
                assert kinds == {*SEALED, "reference", "lap", "photo"}
            return hand.written(), hand.refused
        finally:
            context.close()


@pytest.mark.parametrize("way", ["at once", "at the end"])
def test_whichever_write_the_disk_refuses_nothing_is_half_kept(browser: Browser, way: str) -> None:
    written, _ = walked(browser, None)
    assert sum(written.values()) > 30
    for nth in range(1, max(written.values()) + 1):
        try:
            _, refused = walked(browser, {"nth": nth, "way": way})
        except Exception as error:
            error.add_note(f"Write {nth} of every step was refused {way}.")
            raise
        assert refused >= {name for name, count in written.items() if count >= nth}
