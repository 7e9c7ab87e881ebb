"""A line that breaks while something is sent: the yard takes all of it or none of it, and says so as what may pass.

A real server over a socket: a body shorter than it was announced, whatever the reason.
"""

import hashlib
import json
import socket

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from fleet.models.photos import Photo, PhotoPart
from inspections.models import WalkRound
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def line(live_server):
    """Give a function that PUTs a body of which only the first bytes arrive, and returns status and answer."""
    client = Client()
    client.force_login(StaffFactory(role=Role.YARD_HAND.value))
    token = client.get("/sync/hello").json()["csrf"]
    cookies = "; ".join(
        f"{name}={client.cookies[name].value}"
        for name in (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
    )

    def send(path, body, arrive, **headers):
        told = {
            "Host": "localhost", "Content-Type": "application/octet-stream", "Content-Length": len(body),
            "X-CSRFToken": token, "Cookie": cookies, "Connection": "close",
        } | headers  # fmt: skip
        head = f"PUT {path} HTTP/1.1\r\n" + "".join(f"{name}: {value}\r\n" for name, value in told.items())
        with socket.create_connection((live_server.thread.host, live_server.thread.port), timeout=30) as wire:
            wire.sendall(head.encode() + b"\r\n" + body[:arrive])
            wire.shutdown(socket.SHUT_WR)
            answer = b"".join(iter(lambda: wire.recv(65536), b""))
        top, _, rest = answer.partition(b"\r\n\r\n")
        return int(top.split()[1]), json.loads(rest)

    return send


@pytest.mark.parametrize("arrive", [0, 1, -1])
def test_a_record_cut_short_is_not_refused_for_ever(line, arrive):
    body = walk.manifest(CartFactory(tyres=True), at=timezone.now())
    path, raw = f"/sync/walk-round/{body['id']}", json.dumps(body).encode()
    status, told = line(path, raw, arrive % len(raw))
    assert (status, told["title"]) == (408, "Cut short")
    assert not WalkRound.objects.exists()
    assert line(path, raw, len(raw))[0] == 201


@pytest.mark.parametrize("arrive", [0, 1, -1])
def test_a_photo_cut_short_is_not_refused_for_ever(line, arrive):
    raw = camera_jpeg(width=600, height=800)
    path = f"/sync/photo/{hashlib.sha256(raw).hexdigest()}"
    status, told = line(path, raw, arrive % len(raw))
    assert (status, told["title"]) == (408, "Cut short")
    assert not Photo.objects.exists()
    assert line(path, raw, len(raw))[0] == 201


@pytest.mark.parametrize("arrive", [0, 1, -1])
@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_part_cut_short_is_put_down_whole_or_not_at_all(line, number, arrive):
    """The first part, one between and the last, cut after 0 bytes, after 1 and one before its end."""
    raw = camera_jpeg(width=600, height=800)
    path, third = f"/sync/photo/{hashlib.sha256(raw).hexdigest()}", -(-len(raw) // 3)
    for start in range(0, len(raw), third):
        part = raw[start : start + third]
        told = {"Upload-Offset": start, "Upload-Length": len(raw)}
        if start == number * third:
            status, answer = line(path, part, arrive % len(part), **told)
            assert (status, answer["title"]) == (408, "Cut short")
            assert PhotoPart.objects.count() == number
        status, answer = line(path, part, len(part), **told)
    assert (status, answer["sha256"]) == (201, Photo.objects.get().original_sha256)
    assert not PhotoPart.objects.exists()
