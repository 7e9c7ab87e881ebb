"""Whoever writes a check writes it for a tablet: each of the library's own fits the glass, question and fault alike."""

from typing import Any

import pytest

from inspections.check import Check
from inspections.library import library
from inspections.vocabulary import GRADES, PASSES, PHRASES, WHY_NOT
from tests.capture.standin import Yard
from tests.capture.standin_reference import Json, sheet
from tests.capture.tablet import SIZES, Tablet

pytestmark = pytest.mark.journey

# The longest place of each kind that a sheet can name.
PLACES = {
    "": ("", ""),
    "tyre": ("4RO", "axle 4 right, outer"),
    "hub": ("4R", "axle 4 right"),
    "extinguisher": ("DP-22107", "extinguisher DP-22107"),
    "emergency_stop": ("3", "stop 3"),
}


def worded(check: Check) -> Json:
    """A check as the reference carries it."""
    return {
        "title": check.title,
        "look_for": check.look_for,
        "sound": check.sound,
        "if_not": check.if_not,
        "grade": check.grade,
        "answer": check.answer,
        "unit": check.unit_for("au"),
        "choices": [{"key": one.key, "label": one.label, "grade": one.grade} for one in check.choices],
        "station": check.station,
        "pass": check.walk_pass,
        "required": check.required,
        "may_be_absent": check.may_be_absent,
        "photo": check.photo,
    }


def whole_library(yard: Yard) -> list[str]:
    """Puts every check there is on one cart's daily sheet; gives their keys in order."""
    checks = sorted(library(), key=lambda check: check.walk_pass)
    items: list[dict[str, Any]] = []
    for check in checks:
        place, label = PLACES[check.each]
        items.append({"check": check.key, "place": place, "place_label": label, "limit": None})
    yard.reference["checks"] |= {check.key: worded(check) for check in checks}
    yard.reference["grades"] = [{"key": one.key, "label": one.label, "means": one.means} for one in GRADES]
    yard.reference["phrases"] = list(PHRASES)
    yard.reference["why_not"] = [{"key": key, "label": label} for key, label in WHY_NOT.items()]
    yard.reference["passes"] = [
        {"number": one.number, "label": one.label, "note": one.note} for one in PASSES
    ]
    yard.reference["carts"][2]["sheets"]["daily"] = sheet(items, 99)
    yard.reference["carts"][2]["defects"] = []
    return [check.key for check in checks]


# Past the glass, or under the strip of answers that lies over the foot of the page.
MEASURE = """async (total) => {
    const walk = new URLSearchParams(location.hash.slice(1)).get("walk");
    const drawn = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    // The disk takes its time on a busy machine, and what comes after it must not fall into the next screen.
    const until = async (selector) => { while (!document.querySelector(selector)) await drawn(); };
    const go = async (more) => { location.hash = `walk=${walk}&${more}`; await drawn(); };
    const past = () => {
        const root = document.documentElement;
        const wide = [...document.querySelectorAll("#page button, #page .label")]
            .filter((one) => one.scrollWidth > one.clientWidth + 1 && one.clientWidth).map((one) => one.textContent);
        return [root.scrollHeight - innerHeight, root.scrollWidth - innerWidth, wide];
    };
    const found = [];
    for (let n = 1; n <= total; n += 1) {
        await go(`at=${n}`);
        const start = document.querySelector(".screen-pass .main-choice");
        if (start) { start.click(); await until("#page:not(.screen-pass)"); }
        found.push([n, "question", ...past()]);
        if (document.querySelector(".answer-wrong")) {
            await go(`page=wrong&at=${n}`);
            await until(".screen-wrong");
            document.querySelector(".grade-choice").click();
            await until(".grade-choice[aria-pressed=true]");
            found.push([n, "fault", ...past()]);
        }
    }
    return found.filter(([, , below, right, wide]) => below > 0 || right > 0 || wide.length);
}"""


@pytest.mark.parametrize("size", ["tablet on its side", "tablet upright"])
def test_every_check_of_the_library_fits_the_glass(tablet: Tablet, yard: Yard, size: str) -> None:
    keys = whole_library(yard)
    tablet.page.set_viewport_size(SIZES[size])
    tablet.page.set_default_timeout(120_000)
    tablet.start()
    faults = [
        f"{keys[n - 1]}, {screen}: {below} px below, {right} px beside, cut off {wide}"
        for n, screen, below, right, wide in tablet.run(MEASURE, len(keys))
    ]
    assert not faults, "\n".join(faults)
