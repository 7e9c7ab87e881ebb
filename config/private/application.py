"""The application's own processes on one data folder: what is prepared before them, then worker, schedule and web."""

import http.client
import os
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from config.private.environment import as_owner, demo_environment, only_ours, with_seal_key
from config.private.folder import CHECKOUT, DataFolder, Running
from config.private.processes import Command
from config.private.services import Addresses
from config.private.supervisor import Supervisor

READY_SECONDS = 90.0
STALE_AFTER = timedelta(days=1)
_STOP_SECONDS = 8.0


@contextmanager
def spoken(words: str) -> Iterator[None]:
    """Say what is being done, and how long it took once it is done."""
    print(f"  {words} ...", end="", flush=True)
    began_s = time.monotonic()
    try:
        yield
    except BaseException:
        print(flush=True)
        raise
    print(f" {time.monotonic() - began_s:.1f} s", flush=True)


@dataclass(frozen=True)
class DemoYard:
    """Whether the demo yard has been laid out in this folder, and when."""

    folder: DataFolder

    @property
    def _begun(self) -> Path:
        return self.folder.state / "demo-begun"

    @property
    def _complete(self) -> Path:
        return self.folder.state / "demo-complete"

    @property
    def is_complete(self) -> bool:
        return self._complete.exists()

    @property
    def was_cut_short(self) -> bool:
        """Laying out began and never ended: no page has been served from it, so nothing of anybody's is in it."""
        return self._begun.exists() and not self.is_complete

    def note_beginning(self) -> None:
        self._begun.touch()

    def note_completion(self, at: datetime) -> None:
        self._complete.write_text(at.isoformat())

    def days_old(self, at: datetime) -> int:
        """Whole days since it was laid out; its dates are relative to that day."""
        return (at - datetime.fromisoformat(self._complete.read_text())) // STALE_AFTER


@dataclass(frozen=True)
class Application:
    """Everything of ours that runs on one data folder, reached at one loopback port."""

    supervisor: Supervisor
    folder: DataFolder
    addresses: Addresses
    secrets: Mapping[str, str]
    port: int

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def environment(self) -> dict[str, str]:
        return demo_environment(self.folder, self.addresses, self.secrets, self.port)

    def prepare(self) -> None:
        """Bring tables, privileges, reference data, seal key, demo yard and static files up to this checkout."""
        owner = as_owner(self.environment, self.addresses)
        self._step("Bringing the tables up to date", owner, "migrate", "--no-input")
        self._step("Setting the two roles' privileges", owner, "apply_privileges")
        self._step("Loading the check library", self.environment, "load_reference")
        if not self.folder.seal_key.exists():
            self.folder.seal_key.parent.mkdir(mode=0o700, exist_ok=True)
            key, certificate = str(self.folder.seal_key), str(self.folder.seal_certificate)
            self._step(
                "Making the seal's key",
                self.environment,
                "make_seal_key",
                "--key",
                key,
                "--cert",
                certificate,
            )
        yard = DemoYard(self.folder)
        if not yard.is_complete:
            yard.note_beginning()
            self._step("Laying out the demo yard", self.environment, "load_demo")
            yard.note_completion(datetime.now(UTC))
        self._step(
            "Gathering the static files", self.environment, "collectstatic", "--no-input", "--verbosity=0"
        )

    def start(self) -> None:
        """Start worker, schedule and web server, and wait until the web server says that all is ready."""
        self.supervisor.start(self._worker())
        self.supervisor.start(self._schedule())
        web = self.supervisor.start(self._web())
        with spoken("Starting the web server, the worker and the schedule"):
            self.supervisor.wait_until(self._is_ready, web, seconds=READY_SECONDS)
        owner = as_owner(self.environment, self.addresses)
        self.folder.announce(
            Running(os.getpid(), self.address, only_ours(self.environment), only_ours(owner))
        )

    def manage(self, *arguments: str) -> str:
        """Run one manage.py command and answer what it printed."""
        log = self.folder.logs / f"{arguments[0]}.out"
        log.unlink(missing_ok=True)
        self.supervisor.run_step(self._manage_command(arguments, self.environment, log))
        return log.read_text()

    def _step(self, words: str, environment: Mapping[str, str], *arguments: str) -> None:
        log = self.folder.logs / "preparation.log"
        with spoken(words):
            self.supervisor.run_step(self._manage_command(arguments, environment, log))

    def _manage_command(
        self, arguments: tuple[str, ...], environment: Mapping[str, str], log: Path
    ) -> Command:
        return self._command(
            f"manage.py {arguments[0]}", log, environment, CHECKOUT / "manage.py", *arguments
        )

    def _worker(self) -> Command:
        arguments = (
            "-m",
            "celery",
            "-A",
            "config",
            "worker",
            "--pool=prefork",
            "--concurrency=2",
            "--loglevel=INFO",
        )
        quiet = ("--without-gossip", "--without-mingle")
        environment = with_seal_key(self.environment, self.folder)
        return self._command("The worker", self.folder.logs / "worker.log", environment, *arguments, *quiet)

    def _schedule(self) -> Command:
        last_runs = self.folder.state / "schedule"
        arguments = (
            "-m",
            "celery",
            "-A",
            "config",
            "beat",
            "--loglevel=INFO",
            "--pidfile=",
            f"--schedule={last_runs}",
        )
        return self._command("The schedule", self.folder.logs / "schedule.log", self.environment, *arguments)

    def _web(self) -> Command:
        arguments = (
            "-m",
            "granian",
            "--interface=wsgi",
            "--host=127.0.0.1",
            f"--port={self.port}",
            "--workers=2",
        )
        more = ("--blocking-threads=4", "--workers-kill-timeout=3", "--no-ws", "config.wsgi:application")
        return self._command(
            "The web server", self.folder.logs / "web.log", self.environment, *arguments, *more
        )

    def _command(
        self, name: str, log: Path, environment: Mapping[str, str], *arguments: str | Path
    ) -> Command:
        return Command(
            name, (sys.executable, *arguments), environment, log, CHECKOUT, stop_seconds=_STOP_SECONDS
        )

    def _is_ready(self) -> bool:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5.0)
        try:
            connection.request("GET", "/readyz")
            return connection.getresponse().status == http.client.OK
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()
