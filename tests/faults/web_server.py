"""A second web server of the demo under test, over the same database, which a test may freeze, kill and start again."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import psycopg

from config.private.application import READY_SECONDS, is_ready, web_server
from config.private.folder import DataFolder, Running
from config.private.machine import free_port
from config.private.processes import Child, start

# What the database knows its connections by.
NAME = "slake-to-be-killed"
_HOLD = "SELECT 1 FROM journal_chainhead WHERE chain = %s FOR UPDATE"
_WAITING = """SELECT pid FROM pg_stat_activity
    WHERE application_name = %s AND wait_event_type = 'Lock' AND pid <> pg_backend_pid()"""
_ONCE = """SELECT (SELECT count(*) FROM inspections_walkround WHERE id = %(id)s),
    (SELECT count(*) FROM journal_entry WHERE subject_id = %(id)s AND event = 'inspections.walk_round.signed')"""


def running_demo() -> Running:
    """What the demo under test says of itself: its addresses, and how its processes reach the database."""
    running = DataFolder(Path(os.environ["SLAKE_JOURNEY_LOGS"]).parent).what_runs()
    assert running, "The demo under test says nothing of itself."
    return running


def times_kept(walk_id: str) -> tuple[int, int]:
    """How often a walk-round is kept, and how often the journal says it was signed."""
    with psycopg.connect(running_demo().owner_environment["SLAKE_OWNER_DATABASE_URL"]) as owner:
        found = owner.execute(_ONCE, {"id": walk_id}).fetchone()
        assert found
        return found


class WebServer:
    """The server and what a test does to it."""

    def __init__(self) -> None:
        running = running_demo()
        self.port = free_port()
        self._environment = {**os.environ, **running.environment, "PGAPPNAME": NAME}
        self._log = Path(os.environ["SLAKE_JOURNEY_LOGS"]) / "web-to-be-killed.log"
        self._owner = running.owner_environment["SLAKE_OWNER_DATABASE_URL"]
        self._application = running.environment["SLAKE_DATABASE_URL"]
        self._child: Child | None = None

    def start(self) -> None:
        self._child = start(web_server(self._environment, port=self.port, log=self._log))
        for _ in range(int(READY_SECONDS * 10)):
            if is_ready(self.port):
                return
            assert not self._child.has_ended, self._child.last_lines(40)
            time.sleep(0.1)
        raise AssertionError(f"The web server is not ready.\n{self._child.last_lines(40)}")

    def _signal(self, number: signal.Signals) -> None:
        """To the server and its workers alike."""
        assert self._child
        os.killpg(self._child.process.pid, number)

    def freeze(self) -> None:
        self._signal(signal.SIGSTOP)

    def kill(self) -> None:
        """Every process of it at once, with whatever it was doing."""
        if self._child:
            self._signal(signal.SIGKILL)
            self._child.finish(10)
        self._child = None

    def holding_the_journal(self, cart_id: str) -> psycopg.Connection:
        """A connection that holds the head of a cart's journal: who signs a walk-round of it waits with all else written."""
        owner = psycopg.connect(self._owner)
        assert owner.execute(_HOLD, [f"cart:{cart_id}"]).fetchone()
        return owner

    def waiting(self) -> list[int]:
        """The database processes that wait for somebody else in the middle of this server's work."""
        with psycopg.connect(self._application) as application:
            return [row[0] for row in application.execute(_WAITING, [NAME])]

    def cut_the_database(self) -> None:
        """Ends every connection of this server to the database."""
        with psycopg.connect(self._application) as application:
            application.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = %s", [NAME]
            )
