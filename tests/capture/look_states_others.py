"""Past the screens of a tablet that changes hands, of a customer's person on site, of a look the yard's lot fell on, and of a
test of spray heads."""

from tests.capture.look_states import Look, to
from tests.capture.standin import Yard, problem
from tests.capture.standin_reference import CART_IDS
from tests.capture.tablet import Tablet
from tests.capture.test_change_over import BRUNA, IRA, PINS, WES, change_to, take_by_name
from tests.capture.test_heads import REFUSAL, TEST, catch, catch_all
from tests.capture.test_lot import begin
from tests.capture.test_site import HIRE, on_hire


def hands(tablet: Tablet, yard: Yard, look: Look) -> None:
    """Who takes the tablet, by PIN and by name alone, and a name confirmed afterwards."""
    yard.share(IRA, WES, BRUNA, pins=PINS)
    tablet.open()
    tablet.see("Ira Pell has this tablet.")
    look("list, shared")
    tablet.tap("Change over")
    tablet.see("Wes Tonkin")
    look("who")
    tablet.tap("Wes Tonkin")
    tablet.at("Wes Tonkin")
    tablet.enter("739")
    look("pin")
    tablet.tap("Take the tablet")
    tablet.see("A PIN is six digits. 3 are in.")
    look("pin, told")
    tablet.open()
    change_to(tablet, "Bruna Kitto")
    tablet.see("There is no PIN for Bruna Kitto.")
    look("no pin")
    tablet.open()
    take_by_name(tablet, yard, "Wes Tonkin")
    look("list, taken by name")
    tablet.walk_gate_out()
    tablet.sign("Wes Tonkin")
    tablet.see("ame not yet confirmed")
    look("outcome, name not confirmed")
    tablet.tap("Next cart")
    tablet.see("Wes Tonkin: name not yet confirmed.")
    look("list, name not confirmed")
    tablet.tap("Confirm with PIN", exact=False)
    tablet.at("Confirm with PIN")
    look("confirm with PIN")
    tablet.enter("111111")
    tablet.tap("This was me")
    tablet.see("That is not the PIN. Try again.")
    look("confirm with PIN, told")


def site(tablet: Tablet, yard: Yard, look: Look) -> None:
    """The one cart of a hire, its pre-start sent and held, a shut door, a hire that is over."""
    on_hire(yard)
    tablet.open(f"?hire={HIRE}")
    tablet.at("WC 07")
    look("site")
    yard.judgement = {"outcome": "held", "headline": "WC 07 stays where it is.", "reasons": []}
    tablet.tap("Daily pre-start", exact=False)
    tablet.tap("Start: ", exact=False)
    tablet.at("Wheel nuts")
    tablet.tap("Good")
    tablet.measure("8")
    tablet.tap("Start: Seat and start")
    tablet.tap("Good")
    tablet.at("Check your answers")
    to(tablet, "")
    tablet.see("Carry on")
    look("site, begun")
    tablet.tap("Carry on: WC 07, Daily pre-start")
    tablet.tap("All checks")
    tablet.at("Check your answers")
    yard.hire = "another"
    tablet.sign("Jo Field")
    tablet.see("Open the yard’s link again, or scan the plate on the cart")
    look("site, door shut")
    yard.hire = HIRE
    tablet.tap("Send now")
    tablet.see("ring the yard.")
    look("site, held")
    yard.reference["site"]["is_over"] = True
    yard.reference["carts"] = []
    tablet.open(f"?hire={HIRE}&over")
    tablet.at("This hire is over")
    look("site, over")


def lot(tablet: Tablet, _: Yard, look: Look) -> None:
    """A look the lot fell on, before its photo and after."""
    begin(tablet)
    look("picked")
    tablet.photograph_picked()
    look("picked, with its photo")
    tablet.tap("Good")
    tablet.at("Tread depth, outer")
    look("picked, a value")
    tablet.photograph_picked()
    look("picked, a value with its photo")


def heads(tablet: Tablet, yard: Yard, look: Look) -> None:
    """A flow and evenness test: what to mind, each entry, its figures, and what may become of it."""
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap(TEST, exact=False)
    tablet.see("Park, brake and chock.")
    look("heads, what to mind")
    tablet.tap("Start: the pressure")
    tablet.at("Pressure at the heads")
    look("heads, pressure")
    tablet.tap("Save value")
    tablet.see("Enter the value first.")
    look("heads, pressure, told")
    tablet.measure("200", "kPa")
    tablet.at("Litres caught")
    look("heads, litres")
    catch(tablet, "9999.99", "15.5")
    tablet.measure("40", "L")
    tablet.at("Seconds it ran")
    look("heads, seconds")
    tablet.tap("All heads")
    tablet.at("Check your figures")
    tablet.tap("These are right: go and sign")
    tablet.see("No figure yet of")
    look("heads, some missing")
    tablet.page.get_by_role("link", name="Rear left").click()
    tablet.at("Litres caught")
    for _ in "9999.99":
        tablet.tap("Rub out the last figure")
    tablet.measure("40", "L")
    tablet.at("Seconds it ran")
    for _ in "15.5":
        tablet.tap("Rub out the last figure")
    tablet.measure("15", "s")
    tablet.at("Check your figures")
    for name in ("Rear right", "Side left"):
        tablet.page.get_by_role("link", name=name).click()
        tablet.at("Litres caught")
        tablet.tap("Save 40 L") if name == "Rear right" else tablet.measure("52", "L")
        tablet.tap("15 s, as before")
        tablet.see("Side " if name == "Rear right" else "Side right")
        tablet.tap("All heads")
        tablet.at("Check your figures")
    tablet.page.get_by_role("link", name="Side right").click()
    tablet.tap("Leave this head out")
    tablet.at("Check your figures")
    look("heads, figures")
    tablet.tap("These are right: go and sign")
    tablet.see("3 heads caught, 1 left out.")
    look("heads, sign")
    tablet.tap("Type my name")
    tablet.page.get_by_label("Type your name").fill("Ira Pell")
    yard.cut = True
    tablet.tap("Sign and send")
    tablet.at("Not sent yet")
    look("heads, not sent")
    yard.cut = False
    yard.faults = [problem(422, REFUSAL)]
    tablet.tap("Send now")
    tablet.at("The yard refused it")
    look("heads, refused")
    tablet.tap("Take it up again")
    tablet.at("Check your figures")
    look("heads, taken up again")
    tablet.page.get_by_role("link", name="Side right").click()
    tablet.tap("Leave this head out")
    tablet.sign()
    tablet.at("Heads to see to")
    look("heads, to see to")
    yard.heads_judgement |= {
        "outcome": "good",
        "sentences": ["fan, 60 mm: Every head is within 10 % of its flow when new."],
    }
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap(TEST, exact=False)
    tablet.tap("Start: the pressure")
    tablet.measure("200", "kPa")
    catch_all(tablet, "40", "40", "40", "40")
    tablet.sign()
    tablet.at("Every head good")
    look("heads, good")
