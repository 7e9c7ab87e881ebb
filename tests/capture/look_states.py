"""Past every screen of the capture page in every state it has; `look` is called with the name of each."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, Route, expect

from tests.capture.standin import Yard, problem
from tests.capture.standin_reference import CART_IDS, cart
from tests.capture.tablet import Tablet, camera_jpeg

Look = Callable[[str], None]
SMALL = camera_jpeg(width=400, height=300)
LOADING = "Fetching the yard’s list."
REFUSAL = problem(422, "This walk-round was already received with other answers.")


def to(tablet: Tablet, fragment: str) -> None:
    tablet.run("(hash) => { location.hash = hash; }", fragment)


def later(tablet: Tablet, title: str) -> None:
    """Leaves checks for later until this one is in front."""
    heading = tablet.page.get_by_role("heading", name=title, exact=True)
    for _ in range(30):
        if heading.count():
            return
        before = tablet.page.url
        tablet.tap("Later")
        tablet.page.wait_for_function("(before) => location.href !== before", arg=before)
    raise AssertionError(f"{title} never came")


def hold(page: Page, address: str) -> list[Route]:
    """Holds calls to an address until a test lets them go."""
    held: list[Route] = []

    def keep(route: Route) -> None:
        held.append(route)

    page.route(address, keep)
    return held


def lists(tablet: Tablet, yard: Yard, look: Look) -> None:
    """The list of carts before there is one, with none, with many, and with what can be wrong about it."""
    page = tablet.page
    held = hold(page, "**/sync/reference")
    tablet.open()
    tablet.see(LOADING)
    look("waiting for the list")
    yard.cut = True
    held.pop().continue_()
    tablet.see("No signal")
    page.unroute("**/sync/reference")
    look("no list and no signal")
    yard.cut, yard.is_signed_out = False, True
    tablet.tap("Try again")
    tablet.see("Sign in to see the yard’s carts.")
    look("no list and signed out")
    yard.is_signed_out = False
    carts, yard.reference["carts"] = yard.reference["carts"], []
    tablet.tap("Try again")
    tablet.see("No carts here today.")
    look("no carts")
    more = [cart("WC 3", fleet_number=f"WC {number}", id=f"{number:032x}") for number in range(100, 145)]
    defect: dict[str, Any] = carts[2]["defects"][0]
    defect["second_look"] = "/defects/1/second-look/"
    more[0]["defects"] = [{**defect, "id": str(number)} for number in range(7)]
    yard.reference["carts"] = carts + more
    tablet.tap("Fetch again")
    expect(tablet.button("Show more carts")).to_be_visible()
    look("many carts")
    page.get_by_label("Find by fleet number or plate").fill("nothing like it")
    look("no cart found")
    page.get_by_label("Find by fleet number or plate").fill("")
    yard.cut = True
    tablet.tap("Fetch again")
    tablet.see("No signal")
    look("an old list and no signal")
    yard.cut, yard.is_signed_out = False, True
    tablet.tap("Fetch again")
    tablet.see("You are signed out.")
    look("an old list and signed out")
    yard.is_signed_out = False
    page.get_by_role("link", name="Slake’s other pages").focus()
    to(tablet, f"cart={CART_IDS['WC 12']}x")
    tablet.see("That cart is not on the yard’s list.")
    look("a plate not on the list")


def carts(tablet: Tablet, yard: Yard, look: Look) -> None:
    """One cart: nothing begun, something begun, thrown away, no room for more, nothing to do."""
    for number in CART_IDS:
        tablet.open(f"#cart={CART_IDS[number]}")
        tablet.see("What are you doing?")
        look(f"cart {number}")
    tablet.start()
    tablet.tap("Good")
    tablet.at("Handbook")
    tablet.open()
    tablet.see("1 walk-round begun.")
    look("list with one begun")
    to(tablet, f"cart={CART_IDS['WC 07']}")
    tablet.see("Carry on: 1 of 20 answered")
    look("cart begun")
    tablet.tap("Throw the begun", exact=False)
    look("throw away?")
    tablet.tap("Throw it away")
    tablet.see("thrown away.")
    look("thrown away")
    tablet.run("navigator.storage.estimate = async () => ({ quota: 1e8, usage: 9e7 })")
    tablet.tap("Gate-out check", exact=False)
    tablet.see("There is no room on this tablet for another walk-round.")
    look("no room")
    yard.reference["carts"][2] |= {"sheets": {}, "spray": None}
    tablet.page.reload()
    tablet.see("There is no check for this cart.")
    look("nothing to do")


def answering(tablet: Tablet, yard: Yard, look: Look) -> None:
    """The page of a pass, and a check of each kind of answer, before and after."""
    yard.reference["checks"]["steps"]["may_be_absent"] = True
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap("Daily pre-start", exact=False)
    tablet.see("Part 1 of 4")
    look("pass")
    tablet.tap("Start: Key-out lap")
    tablet.at("Steps and grab rails")
    look("four answers")
    tablet.tap("Good")
    tablet.at("Handbook")
    look("two and a half answers")
    tablet.tap("Back")
    tablet.at("Steps and grab rails")
    look("answered")
    for title, kind in (
        ("Engine oil", "three choices"),
        ("Extinguisher tag", "date"),
        ("Cannon", "known here"),
    ):
        if tablet.button("Next").count():
            tablet.tap("Next")
        later(tablet, title)
        look(kind)
    tablet.run("history.back()")
    later(tablet, "Extinguisher tag")
    tablet.tap("Save date")
    tablet.see("Pick the month and the year first.")
    look("date, told")
    tablet.tap("Mar")
    look("date, half picked")
    later(tablet, "Cannon")
    tablet.tap("Later")
    tablet.tap("Start: Seat and start")
    later(tablet, "Fuel")
    look("nine choices")


def values(tablet: Tablet, yard: Yard, look: Look) -> None:
    """A value, and a check that wants a photo."""
    yard.reference["checks"]["tread"] |= {"photo": True, "may_be_absent": True}
    tablet.start()
    later(tablet, "Tread depth, outer")
    look("measure")
    tablet.tap("Save value")
    tablet.see("Enter the value first.")
    look("measure, told")
    tablet.enter("2.4")
    tablet.photograph(SMALL)
    look("measure, entered, with a photo")
    tablet.tap("Save 2.4 mm")
    tablet.see("How bad is it?")
    look("wrong by its limit")
    tablet.tap("Back")
    later(tablet, "Tread depth, inner")
    tablet.enter("8")
    tablet.tap("Save 8 mm")
    tablet.see("This one wants a photo.")
    look("photo first, by a value")
    tablet.tap("No camera")
    look("no camera, by a value")
    later(tablet, "Rear, as it stands")
    look("photo wanted")
    tablet.tap("Good")
    tablet.see("This one wants a photo.")
    look("photo first")
    tablet.photograph(SMALL)
    tablet.photograph(camera_jpeg(width=300, height=400))
    look("two photos")


def faults(tablet: Tablet, yard: Yard, look: Look) -> None:
    """What is wrong, why not, and the answers read over."""
    tablet.start("Gate-out check")
    tablet.tap("Something’s wrong")
    tablet.see("How bad is it?")
    look("wrong")
    tablet.tap("Do not use")
    tablet.tap("Save what’s wrong")
    tablet.see("Take a photo, or say there is no camera.")
    look("wrong, gaps")
    tablet.tap("No camera")
    look("wrong, no camera")
    tablet.tap("Other words")
    tablet.page.locator("#camera").set_input_files(
        {"name": "IMG.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    )
    tablet.see("That is not a picture")
    look("wrong, no picture")
    for width in (400, 380, 360):
        tablet.photograph(camera_jpeg(width=width, height=300))
    tablet.page.get_by_label("What is wrong, in a few words").fill(
        "Two nuts turned, a third has a rust streak. " * 4
    )
    look("wrong, told")
    tablet.tap("Save what’s wrong")
    tablet.at("Tread depth, outer")
    tablet.tap("Couldn’t check")
    tablet.see("Why couldn’t you check it?")
    look("why")
    tablet.tap("Other")
    tablet.see("Say in a few words what was in the way.")
    look("why, told")
    tablet.tap("Back")
    tablet.tap("All checks")
    tablet.at("Check your answers")
    look("answers, some missing")
    tablet.tap("These are right: go and sign")
    tablet.see("2 checks have no answer yet.")
    look("answers, told what is missing")


def walk_one(tablet: Tablet) -> None:
    """The short sheet with a fault, a photo and a check not done."""
    tablet.start("Gate-out check")
    tablet.tap("Something’s wrong")
    tablet.tap("Repair by a date")
    tablet.tap("loose")
    tablet.photograph(SMALL)
    tablet.tap("Save what’s wrong")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Couldn’t check")
    tablet.tap("Too dark")
    tablet.at("Check your answers")


def type_and_send(tablet: Tablet) -> None:
    tablet.tap("Type my name")
    tablet.page.get_by_label("Type your name").fill("Ira Pell")
    tablet.tap("Sign and send")


def signing(tablet: Tablet, yard: Yard, look: Look) -> None:
    """Answers read over, a name drawn or typed, on its way, and every way it may be held up."""
    walk_one(tablet)
    look("answers, all there")
    tablet.tap("These are right: go and sign")
    look("sign")
    tablet.tap("Sign and send")
    tablet.see("Choose how to sign")
    look("sign, told")
    tablet.tap("Draw my name")
    box = tablet.page.locator(".pad canvas").bounding_box()
    assert box
    hand = tablet.page.mouse
    hand.move(box["x"] + 40, box["y"] + 40)
    hand.down()
    hand.move(box["x"] + 90, box["y"] + 70)
    hand.up()
    look("sign, drawn")
    tablet.tap("Type my name")
    look("sign, typed")
    held = hold(tablet.page, "**/sync/hello")
    type_and_send(tablet)
    tablet.at("Sending")
    look("sending")
    tablet.tap("Carts today")
    tablet.see("Sending.")
    look("list, sending")
    yard.cut = True
    held.pop().continue_()
    tablet.see("No signal")
    tablet.page.unroute("**/sync/hello")
    look("list, waiting for a signal")
    tablet.tap("See: WC 07, Gate-out check")
    tablet.at("Not sent yet")
    look("not sent")
    yard.cut, yard.is_signed_out = False, True
    tablet.tap("Send now")
    tablet.see("You are signed out.")
    look("not sent, signed out")
    yard.is_signed_out = False
    yard.faults = [REFUSAL] * 9
    tablet.tap("Send now")
    tablet.at("The yard refused it")
    look("refused")
    tablet.tap("Carts today")
    tablet.see("The yard refused it; it is on this tablet only.")
    look("list, refused")


REASONS = [
    {"grade": "do_not_use", "sentence": "Right front wheel: two nuts turned."},
    {"grade": "by_date", "sentence": "Right mud flap torn, repair by 4 December."},
    {"grade": "watch", "sentence": "Cannon drips when shut."},
]


def outcomes(tablet: Tablet, yard: Yard, look: Look) -> None:
    """What the yard made of it, of each kind."""
    for outcome, heading in (("ready", "Right to go"), ("conditions", "Goes with limits"), ("held", "Held")):
        yard.judgement |= {"outcome": outcome, "reasons": [] if outcome == "ready" else REASONS}
        tablet.walk_gate_out()
        tablet.sign()
        tablet.at(heading)
        look(f"outcome {outcome}")
    yard.judgement |= {"name_confirmed": False, "clock_flag": True, "sha256": "00" * 32}
    tablet.walk_gate_out()
    tablet.sign()
    tablet.see("What the yard holds is not what this tablet sent.")
    tablet.see("ame not yet confirmed")
    look("outcome with everything to be told")
    tablet.tap("Next cart")
    tablet.see("The yard received it")
    look("list, received")


def keeps_nothing(tablet: Tablet, look: Look) -> None:
    """A browser that keeps nothing."""
    tablet.page.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); };"
    )
    tablet.open()
    tablet.see("This browser keeps nothing")
    look("list, nothing kept")
