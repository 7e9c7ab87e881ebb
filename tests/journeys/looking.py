"""Ways to get a page of the demo before one's eyes, for `./run screens`: opened, walked to, refused."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from tests.journeys.visitor import Visitor

WIPED = """() => new Promise((done) => {
  const asked = indexedDB.deleteDatabase('slake-yard');
  asked.onsuccess = asked.onerror = asked.onblocked = () => done();
})"""
# A caller who asks for litres on a public road.
ROAD = "road_litres=12500&starts_at=2031-03-03T06:00&ends_at=2031-03-07T16:00&leaves_by=road&works_on=road"
# Another who asks for a cart with an operator, ten hours a day for a week, far enough ahead that somebody is free.
LEAVES = datetime.now(UTC).date() + timedelta(days=40)
WET = (
    f"litres=12000&starts_at={LEAVES}T06:00&ends_at={LEAVES + timedelta(days=6)}T16:00&leaves_by=road&works_on=site"
    "&goes=wet&hours_a_day=10"
)
Look = Callable[[Visitor], None]


def page(path: str) -> Look:
    return lambda visitor: visitor.open(path)


def through(path: str, *links: str) -> Look:
    """Opens a page and follows the first link, inside its main part, whose address fits each pattern in turn."""

    def inner(visitor: Visitor) -> None:
        visitor.open(path)
        for link in links:
            visitor.open(_address(visitor, link))

    return inner


def _address(visitor: Visitor, pattern: str) -> str:
    for one in visitor.page.locator("main a[href]").all():
        found = one.get_attribute("href") or ""
        if re.search(pattern, found):
            return found
    raise LookupError(f"{visitor.page.url} leads nowhere like {pattern}")


_ids: dict[str, str] = {}


def _cart_id(visitor: Visitor, number: str) -> str:
    if not _ids:
        carts = visitor.page.request.get(f"{visitor.address}/sync/reference").json()["carts"]
        _ids.update({one["fleet_number"]: one["id"] for one in carts})
    return _ids[number]


def of_cart(number: str, path: str) -> Look:
    """A page of one cart: {id} stands for its id."""
    return lambda visitor: visitor.open(path.replace("{id}", _cart_id(visitor, number)))


def of_hire(number: str, path: str) -> Look:
    """A page of a cart's hire."""

    def inner(visitor: Visitor) -> None:
        visitor.open("/hire/")
        row = visitor.page.get_by_role("row").filter(has_text=number).first
        visitor.open(f"{row.get_by_role('link').first.get_attribute('href')}{path}")

    return inner


def walking(steps: int, *, press: str = "") -> Look:
    """Some way into a gate-out check, with the last screen's button pressed when one is named."""

    def inner(visitor: Visitor) -> None:
        # The tablet keeps a begun walk on its disk: wiped from another page first, so that each picture starts afresh.
        visitor.open("/alerts/")
        visitor.page.evaluate(WIPED)
        visitor.open(f"/check/#cart={_cart_id(visitor, 'WC-11')}")
        visitor.page.locator("button.purpose").filter(has_text="Gate-out check").click()
        visitor.page.locator(".screen-pass").wait_for()
        for _ in range(steps):
            before = visitor.page.url
            screen = visitor.page.locator("#page").get_attribute("class") or ""
            if "screen-pass" in screen:
                visitor.page.locator(".main-choice").click()
                visitor.page.locator("#page:not(.screen-pass)").wait_for()
                continue
            if "screen-review" in screen:
                break
            if "with-pad" in screen:
                for figure in "22000":
                    visitor.page.locator(".number-pad").get_by_role("button", name=figure).click()
                visitor.page.locator("button.save").click()
            else:
                visitor.page.locator("button.answer-good").click()
            visitor.page.wait_for_function("(before) => location.href !== before", arg=before)
        if press:
            visitor.page.get_by_role("button", name=press, exact=True).click()

    return inner


def refused(look: Look) -> Look:
    """The same page after its form was sent empty."""

    def inner(visitor: Visitor) -> None:
        look(visitor)
        # By element: a field for a file has the role of a button too.
        visitor.page.locator("main form button").last.click()
        visitor.page.locator("[data-focus-fault]").wait_for()

    return inner


def pressed(look: Look) -> Look:
    """The same page after its form was sent as it stood, and came back with more to say."""

    def inner(visitor: Visitor) -> None:
        look(visitor)
        with visitor.page.expect_navigation():
            visitor.page.locator("main form button").last.click()

    return inner


def pressed_unticked(visitor: Visitor) -> None:
    """A date for ticked rows, with none typed."""
    visitor.open("/workshop/")
    visitor.page.locator("[data-row] input[type=checkbox]").first.click()
    visitor.page.get_by_role("button", name="Put them off").click()
    visitor.page.locator("[data-focus-fault]").wait_for()


def list_refused(visitor: Visitor) -> None:
    """The list of one service with a row that fits and two that do not."""
    through("/workshop/services/", r"/last-done/$")(visitor)
    days, hours = (visitor.page.locator(f"main input[name$={name}]") for name in ("-on", "-engine_hours"))
    for n, figure in enumerate(("10", "99999", "")):
        days.nth(n).fill("2024-03-12")
        hours.nth(n).fill(figure)
    visitor.page.get_by_role("button", name="Record every filled row").click()
    visitor.page.locator("[data-focus-fault]").wait_for()


def through_refused(visitor: Visitor) -> None:
    """A job sheet handed back without a word."""
    through("/workshop/", r"/job/$")(visitor)
    visitor.page.get_by_role("button", name="Hand it back").click()
    visitor.page.locator("[data-focus-fault]").wait_for()


def exchange(visitor: Visitor) -> None:
    """The exchange of a cart's extinguisher."""
    of_cart("WC-03", "/carts/{id}/")(visitor)
    visitor.open(_address(visitor, r"/extinguishers/[0-9a-f-]{36}/$"))
    visitor.open(_address(visitor, r"/exchange/$"))


def through_cart(number: str, path: str, link: str) -> Look:
    """A page of one cart, and the first link there that fits."""

    def inner(visitor: Visitor) -> None:
        of_cart(number, path)(visitor)
        visitor.open(_address(visitor, link))

    return inner


def through_weights(link: str) -> Look:
    """From the weights of a weighed cart on to the first link that fits."""

    def inner(visitor: Visitor) -> None:
        of_cart("WC-02", "/carts/{id}/weights/")(visitor)
        visitor.open(_address(visitor, link))

    return inner


def pack(visitor: Visitor) -> None:
    """The pack of a cart that leaves in some days."""
    of_hire("WC-02", "")(visitor)
    visitor.open(_address(visitor, r"/hire/packs/[0-9a-f-]{36}/$"))


def heads_caught(visitor: Visitor) -> None:
    """A test of heads with its figures shown and nothing signed."""
    of_cart("WC-07", "/carts/{id}/evenness/test/")(visitor)
    visitor.page.locator("input[name=pressure_kpa]").fill("240")
    for n, litres in enumerate(("75", "75", "60", "84"), start=1):
        visitor.page.locator(f"input[name=litres_{n}]").fill(litres)
        visitor.page.locator(f"input[name=seconds_{n}]").fill("15")
    visitor.page.get_by_role("button", name="Show the figures").click()
    visitor.page.locator("#figures").wait_for()
