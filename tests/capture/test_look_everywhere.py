"""Sizes, gaps, letters and contrast of every screen in every state, in sun and at night, for either hand, on each glass.

What look.md asks for on a tablet: main choices 104 px on their short side, all else 64 px, 16 px between, letters of 20 px,
key values 28 px, contrast 10:1. A phone has less glass: one size of target, narrower gaps and smaller letters.
"""

from itertools import product
from typing import Any

import pytest

from tests.capture import look_states as states
from tests.capture import look_states_others as others
from tests.capture.standin import ROOT, Yard
from tests.capture.tablet import SIZES, Tablet

pytestmark = pytest.mark.journey

MEASURE = (ROOT / "tests" / "capture" / "look_measure.js").read_text(encoding="utf-8")
EVERYWHERE = {"other": 64, "contrast": 10, "edge": 4.5}
ON_A_TABLET = EVERYWHERE | {"main": 104, "gap": 16, "text": 20, "value": 28, "reach": True}
ON_A_PHONE = EVERYWHERE | {"main": 64, "gap": 8, "text": 16, "value": 20, "reach": False}
TURN = "([look, hand]) => Object.assign(document.documentElement.dataset, { look, hand })"
# The answers of a check take nothing for a moment, and an answer is looked at before the page goes on.
SETTLED_MS = 350


class Ruler:
    """Lays the ruler on every screen it is shown, on every glass, in both looks and for both hands."""

    def __init__(self, tablet: Tablet) -> None:
        self.page = tablet.page
        self.screens: list[str] = []
        self.faults: dict[tuple[str, str, str], list[str]] = {}

    def look(self, screen: str) -> None:
        self.screens.append(screen)
        self.page.wait_for_timeout(SETTLED_MS)
        for size, look, hand in product(SIZES, ("sun", "night"), ("right", "left")):
            self.page.set_viewport_size(SIZES[size])
            self.page.evaluate(TURN, [look, hand])
            least: Any = ON_A_PHONE if size == "phone" else ON_A_TABLET
            for fault in self.page.evaluate(MEASURE, least):
                self.faults.setdefault((screen, size, fault), []).append(f"{look}, {hand}")
        self.page.set_viewport_size(SIZES["tablet on its side"])

    def told(self) -> str:
        """One line for each fault: screen and state, glass, what it is, and where not everywhere, in which look and hand."""
        lines = []
        for (screen, size, fault), where in self.faults.items():
            only = "" if len(where) == 4 else f" (in {'; '.join(where)})"
            lines.append(f"{screen} | {size} | {fault}{only}")
        return "\n".join(lines)


@pytest.fixture
def ruler(tablet: Tablet) -> Ruler:
    return Ruler(tablet)


@pytest.mark.parametrize("part", ["lists", "carts", "answering", "values", "faults", "signing", "outcomes"])
def test_every_state_keeps_to_the_look(tablet: Tablet, yard: Yard, ruler: Ruler, part: str) -> None:
    getattr(states, part)(tablet, yard, ruler.look)
    assert len(ruler.screens) == len(set(ruler.screens))
    assert not ruler.faults, ruler.told()


@pytest.mark.parametrize("part", ["hands", "site", "lot", "heads"])
def test_every_state_of_other_hands_keeps_to_the_look(
    tablet: Tablet, yard: Yard, ruler: Ruler, part: str
) -> None:
    getattr(others, part)(tablet, yard, ruler.look)
    assert not ruler.faults, ruler.told()


def test_a_browser_that_keeps_nothing_keeps_to_the_look(tablet: Tablet, ruler: Ruler) -> None:
    states.keeps_nothing(tablet, ruler.look)
    assert not ruler.faults, ruler.told()
