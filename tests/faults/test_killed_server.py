"""The web server is killed, or its database cut, at the worst moments of taking a record in: it is there once, as signed.

The moments: before it reads, in mid-body, in mid-transaction, after the commit and before its answer, in mid-answer, and with a
photo half arrived. What is killed is a second web server on the same data, since the demo's own is shared with other tests.
"""

import random
import time
from collections.abc import Callable, Iterator

import pytest

from tests.faults.ledger import answered, is_there_once, sign_and_send
from tests.faults.proxy import Road, road_to
from tests.faults.tablet import KnockedTablet
from tests.faults.web_server import WebServer, times_kept
from tests.journeys.walk import Walk

pytestmark = pytest.mark.journey

CART = "WC-22"
RECORD, PHOTO = b"PUT /sync/walk-round/", b"PUT /sync/photo/"
PATIENCE_S = 60
# Past the head of the request, into its body.
INTO_THE_BODY = 2_500


@pytest.fixture(scope="module")
def server() -> Iterator[WebServer]:
    server = WebServer()
    server.start()
    yield server
    server.kill()


@pytest.fixture
def road(server: WebServer) -> Iterator[tuple[str, Road]]:
    with road_to("127.0.0.1", server.port) as (end, road):
        yield end, road


def until(is_so: Callable[[], object], what: str, page: object) -> None:
    """Waits for what happens outside the browser, and lets the browser go on meanwhile."""
    for _ in range(PATIENCE_S * 20):
        if is_so():
            return
        page.wait_for_timeout(50)  # type: ignore[attr-defined]
    raise AssertionError(f"Never came: {what}")


def send_and_hold(walk: Walk, road: Road, state: str, cut_at: int, mark: bytes = RECORD) -> None:
    """Signs, and lets what is sent stand still on the road at this place."""
    road.dig(state, cut_at=cut_at, mark=mark)
    sign_and_send(walk)
    until(road.is_held.is_set, f"{state} at {cut_at}", walk.page)


def before_it_reads(walk: Walk, road: Road, server: WebServer) -> None:
    send_and_hold(walk, road, "held_there", 0)
    server.freeze()
    # The whole record lies with the frozen server's machine, and nobody reads it.
    road.state = "open"
    time.sleep(0.5)
    server.kill()


def in_mid_body(walk: Walk, road: Road, server: WebServer) -> None:
    send_and_hold(walk, road, "held_there", INTO_THE_BODY)
    server.kill()


def in_mid_transaction(walk: Walk, road: Road, server: WebServer) -> None:
    with server.holding_the_journal(walk.cart["id"]):
        sign_and_send(walk)
        until(server.waiting, "the record waits for the journal", walk.page)
        server.kill()


def after_its_commit(walk: Walk, road: Road, server: WebServer) -> None:
    send_and_hold(walk, road, "held_back", 0)
    server.kill()


def in_mid_answer(walk: Walk, road: Road, server: WebServer) -> None:
    send_and_hold(walk, road, "held_back", 400)
    server.kill()


def with_half_a_photo(walk: Walk, road: Road, server: WebServer) -> None:
    send_and_hold(walk, road, "held_there", 100_000, mark=PHOTO)
    server.kill()


def without_its_database(walk: Walk, road: Road, server: WebServer) -> None:
    with server.holding_the_journal(walk.cart["id"]):
        sign_and_send(walk)
        until(server.waiting, "the record waits for the journal", walk.page)
        server.cut_the_database()
        walk.page.locator("#page", has_text="The yard’s computer is having trouble.").wait_for()
        road.dig("closed")


# What the yard has by then of the record: rows kept, and entries in its journal.
MOMENTS = {
    before_it_reads: (0, 0),
    in_mid_body: (0, 0),
    in_mid_transaction: (0, 0),
    after_its_commit: (1, 1),
    in_mid_answer: (1, 1),
    with_half_a_photo: (0, 0),
    without_its_database: (0, 0),
}


@pytest.mark.parametrize("moment", MOMENTS, ids=lambda moment: moment.__name__)
def test_a_server_that_dies_at_the_worst_moment_has_the_record_once(
    tablet: KnockedTablet,
    road: tuple[str, Road],
    server: WebServer,
    moment: Callable[[Walk, Road, WebServer], None],
) -> None:
    tablet.sign_in("wes")
    tablet.sees("This page opens without a signal.", within_ms=90_000)
    walk = Walk(tablet, CART, {"engine-hours": "22000", "odometer": "350000"})  # type: ignore[arg-type]
    before = {parcel["id"] for parcel in tablet.parcels()}
    tablet.page.goto(f"{tablet.address}/check/#cart={walk.cart['id']}")
    walk.begin("gate_out")
    # A photo of its own each time: one the yard has already would not be sent.
    ledger = answered(walk, tablet, random.Random(), is_knocked=False)

    moment(walk, road[1], server)
    (parcel,) = [one for one in tablet.parcels() if one["id"] not in before]
    assert times_kept(parcel["id"]) == MOMENTS[moment]
    assert parcel["receipt"] is None
    road[1].dig("open")
    if moment is not without_its_database:
        server.start()

    tablet.open()
    tablet.sees("The yard has everything signed on this tablet.", within_ms=90_000)
    walk_id = is_there_once(tablet, ledger, before)
    assert times_kept(walk_id) == (1, 1)
    assert tablet.stumbles == []
