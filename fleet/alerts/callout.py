"""The way to a text or a voice at night: one HTTPS POST to whatever gateway the yard has."""

from __future__ import annotations

import json
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from urllib.parse import urlsplit

TIMEOUT_S = 10
LOOPBACK = ("127.0.0.1", "localhost", "::1")


class CalloutFailed(Exception):
    """The gateway did not take it. Says nothing of the token."""


def call_out(*, url: str, token: str, to: str, text: str, key: str) -> None:
    """Ask the gateway to text or ring. `key` is the same for the same message, so that a gateway that had it already may
    leave a repetition out. A redirection is not followed: it could carry the token elsewhere.

    CalloutFailed when it did not take it; ValueError when the address is not HTTPS (loopback excepted).
    """
    parts = urlsplit(url)
    host = parts.hostname or ""
    if parts.scheme != "https" and not (parts.scheme == "http" and host in LOOPBACK):
        raise ValueError("SLAKE_CALLOUT_URL must be an https:// address.")
    connect = HTTPSConnection if parts.scheme == "https" else HTTPConnection
    connection = connect(host, parts.port, timeout=TIMEOUT_S)
    headers = {"Content-Type": "application/json", "Idempotency-Key": key}
    if token:
        headers["Authorization"] = f"Bearer {token}"
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        connection.request("POST", path, json.dumps({"to": to, "text": text}).encode(), headers)
        answer = connection.getresponse()
    except (OSError, HTTPException) as error:
        raise CalloutFailed(f"The gateway at {host} does not answer: {type(error).__name__}.") from error
    finally:
        connection.close()
    if not 200 <= answer.status < 300:
        raise CalloutFailed(f"The gateway at {host} answered {answer.status}.")
