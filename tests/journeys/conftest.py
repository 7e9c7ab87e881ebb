"""A real browser against the demo's own processes on throwaway data: `./run journeys` says where by the environment."""

import os
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, expect

from tests.journeys.visitor import PATIENCE_MS, Visitor

# On a busy machine a page may be long in coming; what is expected of it comes all the same.
expect.set_options(timeout=PATIENCE_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What has a database of its own goes first, since none is made beside a running browser; then the round of every page, in
    the yard as it was laid: other journeys use up what some pages hang on."""
    items.sort(
        key=lambda item: (
            item.get_closest_marker("django_db") is None,
            "test_every_page" not in item.nodeid,
        )
    )


@pytest.fixture(scope="session")
def address() -> str:
    found = os.environ.get("SLAKE_JOURNEY_ADDRESS")
    assert found, "A journey needs the whole demo running: start it by ./run journeys."
    return found


@pytest.fixture
def visit(chromium: Browser, address: str) -> Iterator[Callable[..., Visitor]]:
    """Called with a sign-in name and a size it gives a browser with that person signed in; with None a stranger's.

    When the test is over, a script that stumbled, a broken content policy or a complaint in the console fails it.
    """
    visitors = []

    def inner(who: str | None, size: str = "desk") -> Visitor:
        visitor = Visitor(chromium, address, size)
        visitors.append(visitor)
        if who:
            visitor.sign_in(who)
        return visitor

    yield inner
    complaints = [(visitor.who, said) for visitor in visitors for said in visitor.complaints]
    for visitor in visitors:
        visitor.close()
    assert complaints == []
