"""One browser for all tests of the capture page, and a fresh yard and tablet for each."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from tests.capture.standin import Yard, standin
from tests.capture.tablet import TABLET, Tablet


@pytest.fixture(scope="session")
def browser(chromium: Browser) -> Browser:
    return chromium


@pytest.fixture
def served() -> Iterator[tuple[str, Yard]]:
    with standin() as (address, yard):
        yield address, yard


@pytest.fixture
def yard(served: tuple[str, Yard]) -> Yard:
    return served[1]


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(
        viewport=TABLET,
        has_touch=True,
        locale="en-AU",
        timezone_id="Australia/Adelaide",
        # Most tests want the page's files as they are now; the worker has tests of its own.
        service_workers="block",
    )
    # What failed is tried again by hand, when the test says so: the dice of the waiting time never come up small.
    context.add_init_script("Math.random = () => 5000;")
    context.set_default_timeout(5_000)
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    return context.new_page()


@pytest.fixture
def tablet(page: Page, served: tuple[str, Yard]) -> Iterator[Tablet]:
    """A tablet in a hand, not yet at any page. It fails the test when a script of the page failed."""
    tablet = Tablet(page, served[0])
    yield tablet
    assert tablet.stumbles == []


@pytest.fixture
def modules(page: Page, served: tuple[str, Yard]) -> Page:
    """An empty page of the yard, from which the page's own modules can be imported one by one."""
    page.goto(f"{served[0]}/blank/")
    return page
