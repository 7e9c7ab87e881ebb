"""A small yard on the far end of the wire: it serves the real page files and plays every answer the yard can give.

It keeps what it was sent, and answers as the wire promises: the same photo or record twice is the same answer, a record
that names a photo it lacks is told so, a changed record under an old id is refused.
"""

import hashlib
import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import parse_qs, urlsplit

from fleet.lap.drawing import LapAxle, LapCart, draw
from tests.capture.standin_reference import Json, reference

ROOT = Path(__file__).resolve().parent.parent.parent
TYPES = {
    ".webmanifest": "application/manifest+json",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "font-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
LAP = draw(
    LapCart(
        steering_side="right",
        axles=(
            LapAxle(0, "steer", duals=False),
            LapAxle(4.2, "drive", duals=True),
            LapAxle(5.55, "drive", duals=True),
        ),
        tank_shape="ellipse",
        tank_length_m=5.0,
        tank_width_m=2.3,
        tank_material="steel",
        gear=frozenset({"cannon", "hose_reel", "rear_heads", "side_heads", "dribble_bar", "rops", "beacon"}),
    ),
    title="WC 07 from above",
    description="Nose up, stops numbered clockwise.",
)


def shell() -> str:
    """The page's real template, with its three tags filled in as the yard does."""
    text = (ROOT / "templates" / "inspections" / "capture.html").read_text()
    text = re.sub(r"{#.*?#}|{{ words }}|{% load static %}|{% for .*?{% endfor %}", "", text, flags=re.DOTALL)
    text = re.sub(r"{% static '([^']+)' %}", r"/static/\1", text)
    return re.sub(r"{% url [^%]+ %}", "/sign-in/", text).strip()


SET = "standin"


def worker() -> str:
    """The page's real worker, with the set it keeps written in front as the yard does."""
    named = re.findall(r'(?:src|href)="(/static/[^"]+)"', shell())
    modules = [
        f"/{path.relative_to(ROOT).as_posix()}" for path in (ROOT / "static" / "capture").rglob("*.js")
    ]
    files = [
        *named,
        "/static/vendor/idb/idb.js",
        *(path for path in modules if not path.endswith("worker.js")),
    ]
    head = {"SET": SET, "SHELL": "/check/", "FILES": sorted(set(files))}
    constants = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in head.items())
    return constants + (ROOT / "static" / "capture" / "worker.js").read_text(encoding="utf-8")


def problem(status: int, detail: str) -> tuple[int, str, str]:
    """A refusal as the wire words it."""
    body = {"type": "about:blank", "title": "Refused", "status": status, "detail": detail}
    return status, "application/problem+json", json.dumps(body)


class Yard:
    """What the stand-in holds, and the faults a test wants next.

    `faults` are answers (status, content type, body) to give to coming PUTs instead of the right one, in order;
    `cut` drops connections; `judgement` is the outcome it gives. `hire`: the only hire whose calls it answers, by their
    header; "" for the yard's own people.
    """

    def __init__(self) -> None:
        self.reference: Json = reference()
        self.photos: dict[str, bytes] = {}
        self.parts: dict[str, bytes] = {}
        self.records: dict[str, bytes] = {}
        self.puts: list[str] = []
        self.tokens: list[str] = []
        self.faults: list[tuple[int, str, str]] = []
        self.cut = False
        self.sign_ins = 1
        self.is_signed_out = False
        self.is_gone = False
        self.is_portal = False
        self.hire = ""
        # PINs by person, on a tablet that is enrolled; `unnamed`: records whose author has yet to say that it was them.
        self.pins: dict[str, str] = {}
        self.unnamed: set[str] = set()
        self.pins_given: list[str] = []
        self.wait_seconds = 0
        self.heads_judgement: Json = {
            "outcome": "out",
            "headline": "Christiansen 92.1 %, low quarter 84.2 %.",
            "sentences": ["fan, 60 mm: Clean and measure again: Side right.", "The workshop is told."],
        }
        self.judgement: Json = {"outcome": "ready", "headline": "WC 07 may go until 12:30 pm.", "reasons": []}

    def take(self, path: str, body: bytes, token: str) -> tuple[int, str, str]:
        """The answer to one PUT."""
        self.puts.append(path)
        self.tokens.append(token)
        if self.faults:
            return self.faults.pop(0)
        if token != self.reference["csrf"]:
            return problem(403, "The token is not ours.")
        kind, name = path.removeprefix("/sync/").split("/")
        takes = {"photo": self.take_photo, "heads-test": self.take_heads_test}
        return takes.get(kind, self.take_record)(name, body)

    def take_part(self, path: str, body: bytes, token: str, offset: int, length: int) -> tuple[int, str, str]:
        """Adds one part of a photo; the last one makes it whole, and is answered as a whole photo is."""
        name = path.rsplit("/", 1)[1]
        have = self.parts.get(name, b"")
        if offset != len(have):
            return 409, "application/problem+json", json.dumps({"title": "Another part", "offset": len(have)})
        self.parts[name] = have + body
        if len(self.parts[name]) == length:
            return self.take(path, self.parts.pop(name), token)
        return 202, "application/json", json.dumps({"offset": len(self.parts[name])})

    def tell(self, path: str, query: dict[str, list[str]]) -> tuple[int, str, str]:
        """The answer to one GET of the wire."""
        if path == "/sync/hello":
            said: Json = {name: self.reference[name] for name in ("version", "server_time", "csrf", "person")}
            said |= {"signed_in_at": self.reference["signed_in_at"], "tablet": self.tablet()}
            if self.is_signed_out:
                said |= {"person": None, "csrf": "", "signed_in_at": None}
        elif path == "/sync/change-over":
            if not self.tablet():
                return problem(403, "This tablet is not enrolled for changing over.")
            said = {"csrf": self.reference["csrf"]}
        elif self.is_signed_out:
            return problem(401, "Signed out.")
        elif path == "/sync/reference":
            said = self.reference
        elif path == "/sync/held":
            kept = {name: self.records[name] for name in query.get("id", []) if name in self.records}
            said = {"held": {name: hashlib.sha256(body).hexdigest() for name, body in kept.items()}}
        else:
            name = path.rsplit("/", 1)[1]
            said = {"sha256": name, "offset": len(self.parts.get(name, b"")), "complete": name in self.photos}
        return 200, "application/json", json.dumps(said)

    def tablet(self) -> Json | None:
        return {"name": "Wash bay"} if self.reference["people"] else None

    def share(self, *people: Json, pins: dict[str, str]) -> None:
        """Makes the tablet one that these people share; `pins` by name."""
        self.pins = {one["id"]: pins[one["name"]] for one in people if one["name"] in pins}
        self.reference["people"] = [{**one, "pin": one["id"] in self.pins} for one in people]

    def signs_in(self, person: Json) -> None:
        """Somebody signs in: a session of its own, with another token."""
        self.sign_ins += 1
        self.is_signed_out = False
        self.reference |= {
            "person": {name: person[name] for name in ("id", "name", "role")},
            "signed_in_at": f"2026-11-25T01:{self.sign_ins:02d}:00Z",
            "csrf": f"token-{self.sign_ins}",
        }

    def take_pin(self, path: str, body: bytes, token: str) -> tuple[int, str, str]:
        """The answer to one PIN: the tablet taken over, or a name confirmed."""
        given = json.loads(body)
        self.pins_given.append(given["pin"])
        if token != self.reference["csrf"]:
            return problem(403, "The token is not ours.")
        name = path.split("/")[3] if path.endswith("/name") else ""
        person = json.loads(self.records[name])["author"]["id"] if name else given["person"]
        if self.wait_seconds:
            return problem(429, f"Too many wrong PINs. Wait {self.wait_seconds} seconds, then try again.")
        if self.pins.get(person) != given["pin"]:
            return problem(422, "That is not the PIN. Try again.")
        if name:
            self.unnamed.discard(name)
            return 200, "application/json", json.dumps({"name_confirmed": True})
        self.signs_in(next(one for one in self.reference["people"] if one["id"] == person))
        said = {"person": self.reference["person"], "csrf": self.reference["csrf"]}
        return 200, "application/json", json.dumps(said)

    def take_photo(self, name: str, body: bytes) -> tuple[int, str, str]:
        """Keeps a photo whose bytes have the hash they claim."""
        if hashlib.sha256(body).hexdigest() != name:
            return problem(422, "The photo is not the one it claims to be.")
        status = 200 if name in self.photos else 201
        self.photos[name] = body
        return (
            status,
            "application/json",
            json.dumps({"sha256": name, "id": name[:8], "width": 1, "height": 1}),
        )

    def take_heads_test(self, name: str, body: bytes) -> tuple[int, str, str]:
        """Keeps a test of heads, judged as `heads_judgement` says."""
        if self.records.get(name, body) != body:
            return problem(422, "This test was signed and kept already, and this copy says something else.")
        status = 200 if name in self.records else 201
        self.records[name] = body
        receipt = {
            "id": name,
            "sha256": hashlib.sha256(body).hexdigest(),
            "page": f"/evenness/{name}/",
            "received_at": "2026-11-25T00:12:00Z",
            "clock_flag": False,
        } | self.heads_judgement
        return status, "application/json", json.dumps(receipt)

    def take_record(self, name: str, body: bytes) -> tuple[int, str, str]:
        """Keeps a record whose photos are all here."""
        if self.records.get(name, body) != body:
            return problem(422, "This walk-round was already received with other answers.")
        named = {photo for answer in json.loads(body)["answers"] for photo in answer["photos"]}
        missing = sorted(named - self.photos.keys())
        if missing:
            return 409, "application/json", json.dumps({"photos_missing": missing})
        status = 200 if name in self.records else 201
        self.records[name] = body
        if status == 201 and json.loads(body)["author"]["id"] != self.reference["person"]["id"]:
            self.unnamed.add(name)
        receipt = {
            "id": name,
            "sha256": hashlib.sha256(body).hexdigest(),
            "page": f"/walk-rounds/{name}/",
            "received_at": "2026-11-25T00:12:00Z",
            "name_confirmed": name not in self.unnamed,
            "clock_flag": False,
        } | self.judgement
        return status, "application/json", json.dumps(receipt)

    def record(self) -> Json:
        """The one record received."""
        (body,) = self.records.values()
        record: Json = json.loads(body)
        return record


class Handler(BaseHTTPRequestHandler):
    """Speaks HTTP for the Yard."""

    yard: ClassVar[Yard]
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: Any) -> None:
        """Says nothing: a test's own words are enough."""

    def answer(self, status: int, kind: str, body: str | bytes, *headers: tuple[str, str]) -> None:
        """One whole response under the yard's own content policy."""
        content = body.encode() if isinstance(body, str) else body
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("Cache-Control", "no-store")
        for name, value in headers:
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)

    def is_stranger(self) -> bool:
        """Whether the call is for somebody else than this yard speaks with."""
        return self.headers.get("Slake-Hire", "") != self.yard.hire

    def handle_one_request(self) -> None:
        """Nobody is at the other end while the yard is gone."""
        if self.yard.is_gone:
            self.close_connection = True
            return
        super().handle_one_request()

    def do_GET(self) -> None:
        """The page, its files, the reference, a cart's drawing, and plain pages to arrive at."""
        if self.yard.is_gone:
            self.close_connection = True
            return
        path = self.path.split("?")[0]
        if self.yard.is_portal:
            self.answer(200, "text/html", "<!doctype html><title>Wi-Fi sign-in</title>")
            return
        if path.startswith("/sync/"):
            self.tell(path)
        elif path == "/check/":
            self.answer(200, "text/html; charset=utf-8", shell(), ("X-Slake-Set", SET))
        elif path == "/check/worker.js":
            self.answer(200, "text/javascript", worker())
        elif path.endswith("/lap.svg"):
            self.answer(200, "image/svg+xml", LAP)
        elif path.startswith("/static/") and ".." not in path and (ROOT / path[1:]).is_file():
            self.answer(200, TYPES[Path(path).suffix], (ROOT / path[1:]).read_bytes())
        elif path == "/blank/":
            self.answer(200, "text/html", "<!doctype html><html lang=en><title>Blank</title>")
        else:
            self.answer(404, "text/html", "<!doctype html><title>Not here</title>")

    def tell(self, path: str) -> None:
        """One answer of the wire, if the line holds."""
        if self.yard.cut:
            self.close_connection = True
        elif self.is_stranger():
            self.answer(*problem(401, "Signed out."))
        else:
            self.answer(*self.yard.tell(path, parse_qs(urlsplit(self.path).query)))

    def do_POST(self) -> None:
        """A PIN."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        if self.yard.cut:
            self.close_connection = True
            return
        self.answer(*self.yard.take_pin(self.path, body, self.headers.get("X-CSRFToken", "")))

    def do_PUT(self) -> None:
        """A photo or a record."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        if self.yard.cut:
            self.close_connection = True
            return
        if self.is_stranger():
            self.answer(*problem(401, "Signed out."))
            return
        token = self.headers.get("X-CSRFToken", "")
        length = int(self.headers.get("Upload-Length", len(body)))
        if length == len(body):
            self.answer(*self.yard.take(self.path, body, token))
        else:
            self.answer(
                *self.yard.take_part(self.path, body, token, int(self.headers["Upload-Offset"]), length)
            )


@contextmanager
def standin() -> Iterator[tuple[str, Yard]]:
    """Runs a yard on a free loopback port; gives its address and itself."""
    yard = Yard()
    handler = type("OneYard", (Handler,), {"yard": yard})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", yard
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
