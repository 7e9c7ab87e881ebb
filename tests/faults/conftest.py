"""A tablet, the road from it to the yard, and the stand-in yard and empty page that the capture page's own tests have."""

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser

from tests.capture.conftest import browser, context, modules, page, served, yard
from tests.faults.proxy import Road, road_to
from tests.faults.tablet import KnockedTablet
from tests.journeys.conftest import address

__all__ = ["address", "browser", "context", "modules", "page", "served", "yard"]


@pytest.fixture
def road(address: str) -> Iterator[tuple[str, Road]]:
    yard = urlsplit(address)
    assert yard.hostname
    assert yard.port
    with road_to(yard.hostname, yard.port) as (end, road):
        yield end, road


@pytest.fixture
def tablet(chromium: Browser, road: tuple[str, Road], tmp_path: Path) -> Iterator[KnockedTablet]:
    tablet = KnockedTablet(chromium, tmp_path / "tablet", road[0])
    tablet.on()
    yield tablet
    tablet.off()
