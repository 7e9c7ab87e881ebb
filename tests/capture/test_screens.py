"""Every screen of the walk, in every size and look: nothing cut off, nothing too small for a glove, nothing axe minds."""

from collections.abc import Callable

import pytest

from tests.capture.look_states_others import heads
from tests.capture.standin import Yard
from tests.capture.standin_reference import CART_IDS
from tests.capture.tablet import SIZES, Tablet, camera_jpeg

pytestmark = pytest.mark.journey

# Screens that are lists and may run on below; all others must fit on a tablet.
LISTS = {"carts", "cart", "list of answers", "heads, some missing", "heads, figures", "heads, taken up again"}

TARGETS = """() => [...document.querySelectorAll("#page button, #page input:not([type=file]), #page textarea, #page a")]
    .filter((one) => one.getClientRects().length)
    .map((one) => {
        const box = one.getBoundingClientRect();
        return [one.getAttribute("aria-label") || one.textContent || one.id,
                Math.round(Math.min(box.width, box.height) * 10) / 10, one.className];
    })"""
CUT_OFF = """() => [...document.querySelectorAll("#page button, #page .label, #page h1, #page h2, #page p")]
    .filter((one) => one.getClientRects().length && one.scrollWidth > one.clientWidth + 1 && one.clientWidth)
    .map((one) => one.textContent)"""
MAIN = {"answer", "key", "purpose", "cart-row"}


class Looker:
    """Looks hard at each screen it is shown."""

    def __init__(self, tablet: Tablet, size: str) -> None:
        self.tablet = tablet
        self.size = size
        self.faults: list[str] = []

    def look(self, screen: str) -> None:
        self.tablet.page.wait_for_timeout(300)
        self.faults += [f"{screen}: {fault}" for fault in self.tablet.accessibility_faults()]
        right, below = self.tablet.hidden_below_px()
        if right > 0:
            self.faults.append(f"{screen}: {right} px wider than the glass")
        if below > 0 and screen not in LISTS and self.size != "phone":
            self.faults.append(f"{screen}: {below} px below the glass")
        self.faults += [f"{screen}: cut off: {text}" for text in self.tablet.run(CUT_OFF)]
        for name, short_px, kind in self.tablet.run(TARGETS):
            is_main = MAIN & set(kind.split()) and self.size != "phone"
            least_px = 104 if is_main else 64
            if short_px < least_px:
                self.faults.append(f"{screen}: {name!r} is {short_px} px, wants {least_px}")


def later(tablet: Tablet, *titles: str) -> None:
    """From the first of these checks to the last, leaving all between for later."""
    tablet.at(titles[0])
    for title in titles[1:]:
        tablet.tap("Later")
        tablet.at(title)


def walk_past_every_screen(tablet: Tablet, yard: Yard, look: Callable[[str], None]) -> None:
    """One walk that comes past each kind of screen in each of its states."""
    yard.cut = True
    tablet.open()
    tablet.see("No signal")
    look("no signal")
    yard.cut = False
    tablet.tap("Try again")
    tablet.at("Carts today")
    look("carts")
    tablet.page.get_by_role("link", name="WC 07").click()
    look("cart")
    tablet.tap("Daily pre-start", exact=False)
    look("pass")
    tablet.tap("Start: Key-out lap")
    look("check")
    tablet.tap("Something’s wrong")
    look("wrong")
    tablet.tap("Do not use")
    tablet.tap("loose")
    tablet.photograph()
    look("wrong, told")
    tablet.tap("Save what’s wrong")
    tablet.at("Handbook")
    tablet.tap("Couldn’t check")
    look("why not")
    tablet.tap("Too dark")
    later(tablet, "Fan and drive belts", "Engine oil")
    look("choice")
    tablet.tap("Between the marks")
    later(tablet, "Coolant", "Wheel nuts", "Pump shaft guard", "Tread depth, outer")
    tablet.enter("2.4")
    look("measure")
    tablet.tap("Save 2.4 mm")
    look("wrong by its limit")
    tablet.tap("Back")
    later(tablet, "Tread depth, outer", "Tread depth, inner", "Rear, as it stands")
    look("photo wanted")
    tablet.photograph(camera_jpeg(width=400, height=300))
    look("photo taken")
    tablet.tap("Good")
    later(tablet, "Tread depth, outer", "Between the duals", "Extinguisher tag")
    tablet.tap("Mar")
    look("date")
    later(tablet, "Extinguisher tag", "Cannon")
    look("four answers and something known")
    tablet.tap("All checks")
    look("list of answers")
    tablet.run("(hash) => { location.hash = hash; }", f"cart={CART_IDS['WC 07']}")
    look("cart")
    tablet.walk_gate_out()
    tablet.tap("These are right: go and sign")
    look("sign")
    tablet.tap("Draw my name")
    look("sign, drawn")
    tablet.tap("Type my name")
    look("sign, typed")
    tablet.page.get_by_label("Type your name").fill("Ira Pell")
    yard.cut = True
    tablet.tap("Sign and send")
    tablet.at("Not sent yet")
    look("not sent")
    yard.cut = False
    tablet.tap("Send now")
    tablet.at("Right to go")
    look("outcome")
    tablet.tap("Next cart")
    look("carts")


@pytest.mark.parametrize(
    ("size", "look", "hand"),
    [
        ("tablet on its side", "sun", "right"),
        ("tablet upright", "sun", "right"),
        ("tablet upright", "night", "left"),
        ("phone", "sun", "right"),
    ],
)
def test_every_screen_stands_up_to_a_hard_look(
    tablet: Tablet, yard: Yard, size: str, look: str, hand: str
) -> None:
    tablet.page.set_viewport_size(SIZES[size])
    tablet.page.add_init_script(
        f"localStorage.setItem('slake-look', '{look}'); localStorage.setItem('slake-hand', '{hand}');"
    )
    looker = Looker(tablet, size)
    walk_past_every_screen(tablet, yard, looker.look)
    heads(tablet, yard, looker.look)
    assert not looker.faults, "\n".join(looker.faults)
