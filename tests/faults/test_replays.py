"""One record sent a hundred times at once to the real web server: one record, a hundred equal answers, and no changed one."""

import http.client
import json
import threading
from urllib.parse import urlsplit

import pytest

from tests.faults.ledger import is_there_once, sign_and_send
from tests.faults.proxy import Road
from tests.faults.tablet import KnockedTablet
from tests.faults.web_server import times_kept
from tests.journeys.walk import Walk

pytestmark = pytest.mark.journey

CART = "WC-22"
COPIES = 100


def put(tablet: KnockedTablet, address: str, walk_id: str, text: str) -> tuple[int, bytes]:
    """Sends a record as this tablet would, past its road."""
    line = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
    try:
        told = {"Content-Type": "application/json", "Origin": address, **tablet.known}
        line.request("PUT", f"/sync/walk-round/{walk_id}", text.encode(), told)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def knows_the_tablet(tablet: KnockedTablet, address: str) -> None:
    """Its session and its token, for senders that are no browser."""
    assert tablet.context
    token = tablet.page.request.get(f"{address}/sync/hello").json()["csrf"]
    cookies = "; ".join(f"{one['name']}={one['value']}" for one in tablet.context.cookies())
    tablet.known = {"X-CSRFToken": token, "Cookie": cookies}


def all_at_once(tablet: KnockedTablet, address: str, walk_id: str, text: str) -> list[tuple[int, bytes]]:
    """What each of a hundred senders is answered, who begin at one moment."""
    given: list[tuple[int, bytes]] = []
    gun = threading.Barrier(COPIES)

    def send() -> None:
        gun.wait()
        given.append(put(tablet, address, walk_id, text))

    senders = [threading.Thread(target=send) for _ in range(COPIES)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()
    return given


def test_a_hundred_copies_at_once_are_one_record(
    tablet: KnockedTablet, road: tuple[str, Road], address: str
) -> None:
    tablet.sign_in("wes")
    walk = Walk(tablet, CART, {"engine-hours": "22000", "odometer": "350000"})  # type: ignore[arg-type]
    knows_the_tablet(tablet, address)
    tablet.page.goto(f"{tablet.address}/check/#cart={walk.cart['id']}")
    walk.begin("gate_out")
    walk.answer_all()
    road[1].dig("closed")
    sign_and_send(walk)
    (parcel,) = tablet.parcels()
    given = all_at_once(tablet, address, parcel["id"], parcel["text"])
    assert sorted(status for status, _ in given) == [200] * (COPIES - 1) + [201]
    assert len({body for _, body in given}) == 1
    assert json.loads(given[0][1])["sha256"] == parcel["sha256"]

    changed = parcel["text"].replace('"good"', '"could_not_check"', 1)
    assert changed != parcel["text"]
    assert put(tablet, address, parcel["id"], changed)[0] == 422
    assert times_kept(parcel["id"]) == (1, 1)

    # The tablet, which knows nothing of all that, is told the same.
    road[1].dig("open")
    tablet.open()
    tablet.sees("The yard has everything signed on this tablet.", within_ms=90_000)
    ledger = {one["n"]: one["answer"] for one in json.loads(parcel["text"])["answers"]}
    assert is_there_once(tablet, ledger, ()) == parcel["id"]
    assert tablet.stumbles == []
