"""Every page there is, opened by somebody it is for: axe finds nothing, nothing runs off its side, no script stumbles.

A new page is met here by itself, from the links that lead to it; one that nothing leads to fails.
"""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit

import pytest

from people.roles import Role
from tests.house.access_table import ROUTES
from tests.journeys.looking import ROAD, of_cart, of_hire, through
from tests.journeys.rounds import NO_PAGE, PAGES, Round, faults_of
from tests.journeys.visitor import Visitor

pytestmark = pytest.mark.journey

STAFF_SIZES = ("desk", "tablet", "phone")
# Whoever walks up with a phone, and the same page at somebody's desk.
GUEST_SIZES = ("phone", "desk")
# Who looks at a page: the desk at what is the hire's, and for the rest the first who may, those with most on it first.
LOOKERS = {
    "dot": Role.HIRE_DESK,
    "bruna": Role.WORKSHOP_MANAGER,
    "noor": Role.FLEET_MANAGER,
    "wes": Role.YARD_HAND,
}
# Where each begins. What a caller asks is typed and not followed.
BEGINS = {
    "dot": ("/", f"/hire/find/?{ROAD}"),
    "bruna": ("/", "/find/?q=WC-1"),
    "noor": ("/",),
    "wes": ("/carts/",),
}
# Out on hire and held from an owner in the demo: each is called off, looked at and called back.
CALLED_OFF = "WC-05"
# Its certificate goes by email as the demo begins, and may come back once the worker has sent it.
WRITTEN_OF = "WC-11"
# Its tank is kept for drinking water, by the yard's own record.
POTABLE = "WC-10"
# Out with an operator of ours; any hire that is out, should a swap have taken it.
WET = ("WC-01", "WC-07", "WC-17")


def looker_of(name: str) -> str:
    order = sorted(LOOKERS, key=lambda who: who == "dot" and not name.startswith("hire:"))
    return next(who for who in order if LOOKERS[who] in ROUTES[name].roles & ROUTES[name].own)


def staff_pages(who: str) -> set[str]:
    return {name for name, route in PAGES.items() if route.door == "staff" and looker_of(name) == who}


def looks_at(visitor: Visitor, met: dict[str, str], sizes: tuple[str, ...]) -> None:
    faults = [fault for path in met.values() for fault in faults_of(visitor, path, sizes)]
    assert not faults, "\n".join(faults)


def test_what_is_left_out_is_an_address_that_answers_get() -> None:
    assert [name for name in NO_PAGE if name not in ROUTES or "GET" not in ROUTES[name].methods] == []


@pytest.mark.parametrize("who", list(LOOKERS))
def test_each_page_of_the_yard(visit: Callable[..., Visitor], who: str) -> None:
    visitor = visit(who)
    wanted = staff_pages(who)
    with BROUGHT_ABOUT.get(who, nothing)(visitor) as first:
        walked = Round(visitor, (*first, *BEGINS[who]))
        walked.walks(wanted)
        assert wanted - set(walked.met) == set(), f"no link leads {who} to these"
        looks_at(visitor, {name: walked.met[name] for name in sorted(wanted)}, STAFF_SIZES)


@contextmanager
def nothing(_: Visitor) -> Iterator[tuple[str, ...]]:
    yield ()


@contextmanager
def workshop_things(bruna: Visitor) -> Iterator[tuple[str, ...]]:
    """The job sheet of a ticked defect, an extinguisher on the shelf, on no cart, and the water of a drinking-water tank."""
    bruna.open("/workshop/")
    bruna.page.locator("[data-row] input[type=checkbox]").first.click()
    bruna.press("Open their job sheets to print")
    sheets = urlsplit(bruna.page.url)
    bruna.open("/extinguishers/spare/")
    bruna.page.get_by_label("Serial").fill("SP-4471")
    bruna.page.locator("input[name=made_on]").fill("2025-03-01")
    bruna.press("Put it on the shelf")
    shelf = urlsplit(bruna.page.url).path
    of_cart(POTABLE, "/carts/{id}/water/")(bruna)
    yield f"{sheets.path}?{sheets.query}", shelf, urlsplit(bruna.page.url).path


@contextmanager
def called_off(dot: Visitor) -> Iterator[tuple[str, ...]]:
    """A cart called off by its customer and another with its owner, for as long as is looked; a letter that was sent; and a hire
    whose pre-starts are in a book of the customer's."""
    of_hire(WRITTEN_OF, "")(dot)
    dot.awaits(dot.page.url, lambda: dot.page.locator("main a[href*='/came-back/']").count() > 0)
    of_hire(CALLED_OFF, "")(dot)
    line = dot.page.url
    dot.open(f"{line}off-hire/")
    dot.page.locator("input[name=keys_words]").fill("In the site hut")
    dot.press(f"Off-hire {CALLED_OFF}")
    through("/hire/hired-in/", r"/call/$")(dot)
    owners = dot.page.url.removesuffix("call/")
    dot.page.locator("input[name=called_to_words]").fill("Bel Ostrow")
    dot.press("Call WC-", exact=False)
    try:
        through("/hire/lapsed/", r"/pre-start-copy/")(dot)
        theirs = urlsplit(dot.page.url).path.removesuffix("pre-start-copy/")
        yield urlsplit(line).path, urlsplit(owners).path, theirs
    finally:
        for page, link in ((line, r"/off-hires/.*/cancel/$"), (owners, r"/call/cancel/$")):
            through(page, link)(dot)
            dot.page.locator("main form [name=why]").fill("Called by mistake")
            dot.page.locator("main form button").last.click()


BROUGHT_ABOUT = {"dot": called_off, "bruna": workshop_things}


def test_each_page_of_a_customers_link(visit: Callable[..., Visitor]) -> None:
    dot, customer = visit("dot"), visit(None, "phone")
    wanted = {name for name, route in PAGES.items() if route.things[:1] == ("token",)}
    walked = Round(customer, ())
    for cart in WET:
        of_hire(cart, "link/")(dot)
        dot.page.get_by_label("Who is it for").fill("Aoife Merrin")
        dot.page.locator("main form button").last.click()
        walked.takes([urlsplit(dot.page.get_by_label("Customer link").input_value()).path])
        walked.walks(wanted)
    assert wanted - set(walked.met) == set()
    looks_at(customer, walked.met, GUEST_SIZES)


def test_each_page_of_an_operators_link(visit: Callable[..., Visitor]) -> None:
    dot, operator = visit("dot"), visit(None, "phone")
    wanted = {name for name, route in PAGES.items() if route.things[:1] == ("operator_token",)}
    walked = Round(operator, ())
    dot.open("/hire/operators/")
    pages = dot.page.locator("main a[href*='/hire/operators/']").evaluate_all(
        "(all) => all.map((a) => a.pathname)"
    )
    for page in pages:
        dot.open(page)
        if dot.page.get_by_role("button", name=re.compile("^Make (a link|another)")).count():
            dot.press("Make a", exact=False)
            walked.takes([urlsplit(dot.page.get_by_label("Operator’s link").input_value()).path])
            walked.walks(wanted)
    assert wanted - set(walked.met) == set()
    looks_at(operator, walked.met, GUEST_SIZES)


def test_each_page_that_is_open_to_anybody(visit: Callable[..., Visitor]) -> None:
    noor, stranger = visit("noor"), visit(None, "phone")
    wanted = {name for name, route in PAGES.items() if route.door in ("open", "plate")}
    walked = Round(noor, ("/sign-in/", "/v/", "/carts/"))
    walked.walks((wanted | {"fleet:plate_print"}) - {"fleet:plate"})
    noor.open(walked.met["fleet:plate_print"])
    walked.takes([urlsplit(noor.page.locator(".qr-plate-address").inner_text()).path])
    looks_at(stranger, {name: walked.met[name] for name in sorted(wanted)}, GUEST_SIZES)
