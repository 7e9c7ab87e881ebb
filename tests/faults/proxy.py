"""A road between tablet and yard that the tests dig up: bytes pass, stand still, come slowly, or are cut where they say."""

from __future__ import annotations

import queue
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial

CHUNK = 16 * 1024
# Small enough that what shares a narrow road gets its turn.
NARROW_CHUNK = 4 * 1024


@dataclass
class Road:
    """How the road is. `state`: "open", "closed" (nobody answers the door), "silent" (let in and never answered),
    "slow" (a chunk at a time with a pause), "narrow" (all that is on it shares `bytes_a_second` each way, and every byte and
    the first knock take `delay` seconds more), "cut_there" (closed after `cut_at` bytes towards the yard), "cut_back"
    (closed after `cut_at` bytes of its answers), "held_there" or "held_back" (everything stands still that many bytes
    after `mark`, or after the first byte of its answer; `is_held` tells). Asked for anew with every connection and
    every chunk."""

    state: str = "open"
    cut_at: int = 0
    mark: bytes = b""
    pause: float = 0.02
    bytes_a_second: int = 200_000
    delay: float = 0.075
    carried: int = 0
    is_held: threading.Event = field(default_factory=threading.Event)
    sockets: list[socket.socket] = field(default_factory=list)
    free_at: dict[str, float] = field(default_factory=dict)
    turn: threading.Lock = field(default_factory=threading.Lock)

    def dig(self, state: str, *, cut_at: int = 0, mark: bytes = b"") -> None:
        """Changes the road, and drops what is on it unless that only gets slower or is to be cut later."""
        self.is_held.clear()
        self.state, self.cut_at, self.carried, self.mark = state, cut_at, 0, mark
        if state in ("open", "closed", "silent", "narrow"):
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


def _through(road: Road, size: int, way: str) -> float:
    """Waits for a place on the narrow road, and gives when what goes on it now is at its far end."""
    with road.turn:
        gone = max(time.monotonic(), road.free_at.get(way, 0.0)) + size / road.bytes_a_second
        road.free_at[way] = gone
    time.sleep(max(0.0, gone - time.monotonic()))
    return gone + road.delay


def _hand_on(waiting: queue.Queue[tuple[float, bytes]], target: socket.socket) -> None:
    """Hands on what has been on the narrow road for long enough; an empty piece is its end."""
    with suppress(OSError):
        while True:
            there_at, chunk = waiting.get()
            if not chunk:
                target.shutdown(socket.SHUT_WR)
                return
            time.sleep(max(0.0, there_at - time.monotonic()))
            target.sendall(chunk)


def _carry_narrow(road: Road, source: socket.socket, target: socket.socket, *, way: str) -> None:
    """Carries bytes one way at the road's rate, while those before them are still on their way."""
    waiting: queue.Queue[tuple[float, bytes]] = queue.Queue()
    threading.Thread(target=_hand_on, args=(waiting, target), daemon=True).start()
    with suppress(OSError):
        while chunk := source.recv(NARROW_CHUNK):
            waiting.put((_through(road, len(chunk), way), chunk))
    waiting.put((0.0, b""))


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
        threading.Thread(target=_open, args=(road, tablet, yard), daemon=True).start()


def _open(road: Road, tablet: socket.socket, yard: tuple[str, int]) -> None:
    """The far end of a connection, and both ways between."""
    if road.state == "narrow":
        time.sleep(2 * road.delay)
    try:
        far = socket.create_connection(yard)
    except OSError:
        tablet.close()
        return
    road.sockets.append(far)
    line: dict[str, int] = {}
    for source, target, way in ((tablet, far, "there"), (far, tablet, "back")):
        is_narrow = road.state == "narrow"
        carry = partial(_carry_narrow, way=way) if is_narrow else partial(_carry, way=way, line=line)
        threading.Thread(target=carry, args=(road, source, target), daemon=True).start()


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
