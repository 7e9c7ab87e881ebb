"""A mail server and a call-out gateway of the tests' own: they take what comes and keep it, or misbehave as told."""

from __future__ import annotations

import json
import socketserver
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from email import message_from_string, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class MailSink(socketserver.ThreadingTCPServer):
    """Speaks as much SMTP as a sender needs. mails: what arrived, in order. answer: said to DATA's end; "drop" hangs up
    after the mail has been kept, as a server does that dies before its answer."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Talk)
        self.mails: list[EmailMessage] = []
        self.answer = "250 kept"
        # Called with each mail when it is kept and not yet answered: the moment in which a sender's death costs most.
        self.on_mail: Callable[[EmailMessage], None] = lambda _mail: None

    @property
    def port(self) -> int:
        return self.server_address[1]


class _Talk(socketserver.StreamRequestHandler):
    server: MailSink

    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())

    def handle(self) -> None:
        # A sender that is killed leaves in the middle of a word.
        with suppress(ConnectionError):
            self._talk()

    def _talk(self) -> None:
        self.say("220 sink")
        while line := self.rfile.readline().decode().strip():
            verb = line[:4].upper()
            if verb == "DATA":
                self.say("354 go on")
                mail = self._mail()
                if mail is None:
                    return
                self.server.mails.append(mail)
                self.server.on_mail(mail)
                if self.server.answer == "drop":
                    return
                self.say(self.server.answer)
            elif verb == "QUIT":
                self.say("221 bye")
                return
            else:
                self.say("250 fine")

    def _mail(self) -> EmailMessage | None:
        """None when the sender is gone before its end: a server keeps no half mail."""
        lines = []
        while (line := self.rfile.readline().decode()) != ".\r\n":
            if not line:
                return None
            lines.append((line.removeprefix(".") if line.startswith("..") else line).rstrip("\r\n"))
        found = message_from_string("\n".join(lines), policy=policy.default)
        assert isinstance(found, EmailMessage)
        return found


class Gateway(ThreadingHTTPServer):
    """Keeps every call as (path, headers, body); answers with `status`."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Call)
        self.calls: list[tuple[str, dict[str, str], dict[str, str]]] = []
        self.status = 202

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/call?by=voice"


class _Call(BaseHTTPRequestHandler):
    server: Gateway

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        self.server.calls.append((self.path, dict(self.headers), body))
        self.send_response(self.server.status)
        if 300 <= self.server.status < 400:
            self.send_header("Location", self.server.url)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        pass


@contextmanager
def running(server: MailSink | Gateway) -> Iterator[MailSink | Gateway]:
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        thread.join(timeout=10)
