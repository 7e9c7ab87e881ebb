"""Every page of Slake met on foot: from a person's first page along the links, until each page they are for is found."""

import re
from collections import Counter
from collections.abc import Iterable
from html import unescape
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from django.urls import Resolver404, resolve

from tests.house.access_table import ROUTES
from tests.journeys.visitor import RULES, SIZES, Visitor

LINK = re.compile(r'<a\b[^>]*?\shref="([^"#]+)')
# Of axe's answer only what is wrong: on a page of many rows the rest is most of its work.
WRONG_ALONE = {**RULES, "resultTypes": ["violations"], "preload": False}
AT_NIGHT = {"runOnly": ["color-contrast"], "resultTypes": ["violations"], "preload": False}
# A list leads to a hundred carts; whoever is not through by then has a page that nothing leads to.
MOST_READ = 700

FILE = "a file"
PICTURE = "a picture within a page"
LEADS_ON = "leads on to another page"
PART = "a part of a page, fetched by it"
WIRE = "speaks to the tablet's page, in JSON"
MACHINE = "a machine asks it"
# Addresses that answer GET and are no page of their own, each with its reason.
NO_PAGE = {
    "healthz": MACHINE,
    "readyz": MACHINE,
    "alerts:alert_live": PART,
    "alerts:alert_count": PART,
    "fleet:lap": PICTURE,
    "fleet:photo": PICTURE,
    "fleet:load_plot": PICTURE,
    "fleet:evenness_trend": PICTURE,
    "servicing:tyre_wear": PICTURE,
    "inspections:certificate_file": FILE,
    "hire:cab_card": FILE,
    "hire:customer_cab_card": FILE,
    "hire:customer_file": FILE,
    "hire:customer_docket": FILE,
    "hire:customer_pack": FILE,
    "hire:docket_file": FILE,
    "hire:pack_file": FILE,
    "hire:quote_file": FILE,
    "hire:letter_open": LEADS_ON,
    "hire:job_plan_open": LEADS_ON,
    "hire:booking_open": LEADS_ON,
    "hire:link_open": LEADS_ON,
    "hire:plate_open": LEADS_ON,
    "hire:collection": "opened by the cookie of a driver's phone: tests/journeys/test_collecting.py",
    "servicing:defect_step": LEADS_ON,
    "servicing:job_act": LEADS_ON,
    "inspections:capture": "the tablet's page: tests/capture looks at every screen of it",
    "inspections:capture_worker": FILE,
    "inspections:site_manifest": FILE,
    "inspections:sync_hello": WIRE,
    "inspections:sync_reference": WIRE,
    "inspections:sync_lap": WIRE,
    "inspections:sync_change_over": WIRE,
    "inspections:sync_held": WIRE,
    "inspections:sync_photo": WIRE,
    # What the demo has no row for.
    "fleet:question_settle": "asked after two readings that cannot both be right: tests/fleet/test_each_form.py",
    "fleet:pass_detail": "nothing is passed by authority in the demo: tests/fleet/test_pass_pages.py",
    "fleet:pass_enter": "offered to whoever may not pass it themselves: tests/fleet/test_pass_pages.py",
    "fleet:permit_came": "asked of a cart on its way on a move permit: tests/fleet/test_move_permit_pages.py",
    "hire:handover_looked_at": "asked of a handover entered late that something stopped: tests/hire/test_left_although.py",
    "hire:float_loading": "asked of a floated hire before it leaves: tests/hire/test_float_looks.py",
    "hire:off_hire_not_left": "asked of a cart on its way back: tests/hire/test_not_back.py",
    "fleet:sanitising_test": "asked between a sanitising and its test: tests/fleet/test_water_pages.py",
}
PAGES = {name: route for name, route in ROUTES.items() if "GET" in route.methods and name not in NO_PAGE}


def name_of(path: str) -> str:
    """The address's name in the access table; "" for what is none of ours."""
    try:
        return resolve(urlsplit(path).path).view_name
    except Resolver404:
        return ""


class Round:
    """One person's way through the pages: `met` holds the first address found under each name."""

    def __init__(self, visitor: Visitor, first: Iterable[str]) -> None:
        self.met: dict[str, str] = {}
        self._visitor = visitor
        self._ahead: dict[str, str] = {}
        self._seen: set[str] = set()
        self._read: Counter[str] = Counter()
        self.takes(first)

    def takes(self, paths: Iterable[str]) -> None:
        for path in paths:
            name, bare = name_of(path), urlsplit(path).path
            if name in PAGES and bare not in self._seen:
                self._seen.add(bare)
                self.met.setdefault(name, path)
                self._ahead[path] = name

    def walks(self, wanted: set[str]) -> None:
        """Reads on, the kind of page least read so far first, until what is wanted was met or nothing leads further."""
        while self._ahead and wanted - set(self.met) and self._read.total() < MOST_READ:
            path = min(self._ahead, key=lambda one: self._read[self._ahead[one]])
            self._read[self._ahead.pop(path)] += 1
            answer = self._visitor.page.request.get(f"{self._visitor.address}{path}")
            if answer.ok and answer.headers["content-type"].startswith("text/html"):
                self.takes(map(unescape, LINK.findall(answer.text())))


def faults_of(visitor: Visitor, path: str, sizes: tuple[str, ...]) -> list[str]:
    """What is wrong with one page. It is loaded once and then made as wide as each of the sizes; axe looks at the first,
    and at night once more at what night changes."""
    page = visitor.page
    page.set_viewport_size(SIZES[sizes[0]])
    answer = page.goto(f"{visitor.address}{path}")
    assert answer is not None
    found = [] if answer.status == 200 else [f"answers {answer.status}"]
    if not re.fullmatch(r"\S.* – Slake", page.title()):
        found.append(f"titled {page.title()!r}")
    if (headings := page.locator("h1").count()) != 1:
        found.append(f"{headings} first headings")
    found += _axe(visitor, WRONG_ALONE)
    if page.locator("body.yard").count():
        page.evaluate("document.documentElement.dataset.look = 'night'")
        found += [f"at night {one}" for one in _axe(visitor, AT_NIGHT)]
    for size in sizes:
        page.set_viewport_size(SIZES[size])
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            found.append(f"{over} px off the side of a {size}")
    return [f"{path} as {visitor.who}: {one}" for one in found]


def _axe(visitor: Visitor, rules: dict[str, object]) -> list[str]:
    return [
        f"{fault['id']}: {node['html'][:160]}"
        for fault in Axe().run(visitor.page, options=rules).response["violations"]
        for node in fault["nodes"]
    ]
