"""A road between tablet and yard that the tests dig up: bytes pass, stand still, come slowly, or are cut where they say."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field

CHUNK = 16 * 1024


@dataclass
class Road:
    """How the road is. `state`: "open", "closed" (nobody answers the door), "silent" (let in and never answered),
    "slow" (a chunk at a time with a pause), "cut_there" (closed after `cut_at` bytes towards the yard) or "cut_back"
    (closed after `cut_at` bytes of its answers). Asked for anew with every connection and every chunk."""

    state: str = "open"
    cut_at: int = 0
    pause: float = 0.02
    carried: int = 0
    sockets: list[socket.socket] = field(default_factory=list)

    def dig(self, state: str, *, cut_at: int = 0) -> None:
        """Changes the road, and drops what is on it unless it only gets slower or is to be cut later."""
        self.state, self.cut_at, self.carried = state, cut_at, 0
        if state in ("open", "closed", "silent"):
            self.drop()

    def drop(self) -> None:
        for one in self.sockets:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            with suppress(OSError):
                one.close()
        self.sockets.clear()


def _carry(road: Road, source: socket.socket, target: socket.socket, *, cut: str) -> None:
    """Carries bytes one way until either end closes or the road is cut in this direction."""
    with suppress(OSError):
        while chunk := source.recv(CHUNK):
            if road.state == "slow":
                time.sleep(road.pause)
            if road.state == cut:
                left = road.cut_at - road.carried
                road.carried += len(chunk)
                if left < len(chunk):
                    target.sendall(chunk[: max(left, 0)])
                    break
            target.sendall(chunk)
    for one in (source, target):
        with suppress(OSError):
            one.shutdown(socket.SHUT_RDWR)


def _serve(road: Road, listener: socket.socket, yard: tuple[str, int]) -> None:
    while True:
        try:
            tablet, _ = listener.accept()
        except OSError:
            return
        if road.state == "closed":
            tablet.close()
            continue
        road.sockets.append(tablet)
        if road.state == "silent":
            continue
        try:
            far = socket.create_connection(yard)
        except OSError:
            tablet.close()
            continue
        road.sockets.append(far)
        for source, target, cut in ((tablet, far, "cut_there"), (far, tablet, "cut_back")):
            threading.Thread(
                target=_carry, args=(road, source, target), kwargs={"cut": cut}, daemon=True
            ).start()


@contextmanager
def road_to(host: str, port: int) -> Iterator[tuple[str, Road]]:
    """An address of its own that leads to the yard, and the road between."""
    road = Road()
    listener = socket.create_server(("127.0.0.1", 0))
    threading.Thread(target=_serve, args=(road, listener, (host, port)), daemon=True).start()
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}", road
    finally:
        with suppress(OSError):
            listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        road.drop()
