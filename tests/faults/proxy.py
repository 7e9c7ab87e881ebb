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
    "slow" (a chunk at a time with a pause), "cut_there" (closed after `cut_at` bytes towards the yard), "cut_back"
    (closed after `cut_at` bytes of its answers), "held_there" or "held_back" (everything stands still that many bytes
    after `mark`, or after the first byte of its answer; `is_held` tells). Asked for anew with every connection and
    every chunk."""

    state: str = "open"
    cut_at: int = 0
    mark: bytes = b""
    pause: float = 0.02
    carried: int = 0
    is_held: threading.Event = field(default_factory=threading.Event)
    sockets: list[socket.socket] = field(default_factory=list)

    def dig(self, state: str, *, cut_at: int = 0, mark: bytes = b"") -> None:
        """Changes the road, and drops what is on it unless it only gets slower or is to be cut later."""
        self.is_held.clear()
        self.state, self.cut_at, self.carried, self.mark = state, cut_at, 0, mark
        if state in ("open", "closed", "silent"):
            self.drop()

    def drop(self) -> None:
        for one in self.sockets:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            with suppress(OSError):
                one.close()
        self.sockets.clear()

    def holds(self, chunk: bytes, line: dict[str, int], way: str) -> bytes:
        """What of a chunk passes; it stands still here, when it is to, until the road is dug again."""
        if self.mark and "at" not in line and way == "there" and self.mark in chunk:
            line["at"] = chunk.index(self.mark)
            line["there"] = -line["at"]
        if self.state != f"held_{way}" or "at" not in line:
            return chunk
        left = self.cut_at - line.get(way, 0)
        line[way] = line.get(way, 0) + len(chunk)
        return chunk if left >= len(chunk) else chunk[: max(left, 0)]


def _stands_still(road: Road, way: str) -> None:
    road.is_held.set()
    while road.state == f"held_{way}":
        time.sleep(0.02)


def _carry(
    road: Road, source: socket.socket, target: socket.socket, *, way: str, line: dict[str, int]
) -> None:
    """Carries bytes one way until either end closes or the road is cut in this direction."""
    cut = f"cut_{way}"
    with suppress(OSError):
        while chunk := source.recv(CHUNK):
            passing = road.holds(chunk, line, way)
            if len(passing) < len(chunk):
                target.sendall(passing)
                _stands_still(road, way)
                chunk = chunk[len(passing) :]
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
        line: dict[str, int] = {}
        for source, target, way in ((tablet, far, "there"), (far, tablet, "back")):
            threading.Thread(
                target=_carry, args=(road, source, target), kwargs={"way": way, "line": line}, daemon=True
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
