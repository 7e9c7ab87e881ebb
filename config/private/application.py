"""The application's own processes on one data folder: what is prepared before them, then worker, schedule and web."""

import http.client
import os
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from config.private.environment import as_owner, demo_environment, only_ours, with_seal_key
from config.private.folder import CHECKOUT, DataFolder, Running
from config.private.processes import Command
from config.private.remembered import DemoYard, StaticFiles
from config.private.services import Addresses
from config.private.steps import MARK
from config.private.supervisor import Supervisor

READY_SECONDS = 180.0
SWEEP = "fleet.alerts.tasks.sweep_alerts"
# A worker cut off in the middle of a task loses nothing: the message is acknowledged late and the sweep comes round.
_STOP_SECONDS = 4.0


def is_ready(port: int) -> bool:
    """Whether the web server there says that all it needs is there."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5.0)
    try:
        connection.request("GET", "/readyz")
        return connection.getresponse().status == http.client.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


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


def web_server(environment: Mapping[str, str], *, port: int, log: Path) -> Command:
    """The web server on a loopback port."""
    arguments = (
        "-m granian --interface=wsgi --workers=2 --blocking-threads=16 --workers-kill-timeout=3 --no-ws"
    )
    place = ("--host=127.0.0.1", f"--port={port}", "config.wsgi:application")
    words = (sys.executable, *arguments.split(), *place)
    return Command("The web server", words, environment, log, CHECKOUT, stop_seconds=_STOP_SECONDS)


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
        with spoken("Bringing tables, check library and static files up to date"):
            self._bring_up_to_date()
        yard = DemoYard(self.folder)
        if not yard.is_complete:
            yard.note_beginning()
            with spoken("Laying out the demo yard"):
                self._run_steps(self.environment, ["load_demo"])
            yard.note_completion()

    def _bring_up_to_date(self) -> None:
        """What the owner does at every start; beside it what is made once, or when its sources have changed."""
        commands = [["migrate", "--no-input"], ["apply_privileges"], ["load_reference"]]
        if not self.folder.seal_key.exists():
            self.folder.seal_key.parent.mkdir(mode=0o700, exist_ok=True)
            key, certificate = str(self.folder.seal_key), str(self.folder.seal_certificate)
            commands.append(["make_seal_key", "--key", key, "--cert", certificate])
        static = StaticFiles(self.folder)
        if not static.are_current:
            commands.append(["collectstatic", "--no-input", "--clear", "--verbosity=0"])
        self._run_steps(as_owner(self.environment, self.addresses), *commands)
        static.note_gathering()

    def start(self) -> str:
        """Start worker, schedule and web server, wait until the web server says all is ready; answer the sign-ins."""
        with spoken("Starting the web server, the worker and the schedule"):
            self.supervisor.start(self._worker())
            self.supervisor.start(self._schedule())
            web = self.supervisor.start(
                web_server(self.environment, port=self.port, log=self.folder.logs / "web.log")
            )
            # While those load the framework, so does this. The sweep is sent because after a night's pause readiness
            # waits for one, and a schedule that has forgotten its last runs would send it only a period from now.
            sign_ins = self._run_steps(self.environment, ["send_task", SWEEP], ["demo_sign_ins"])
            self.supervisor.wait_until(lambda: is_ready(self.port), web, seconds=READY_SECONDS)
        owner = as_owner(self.environment, self.addresses)
        self.folder.announce(
            Running(os.getpid(), self.address, only_ours(self.environment), only_ours(owner))
        )
        return sign_ins

    def _run_steps(self, environment: Mapping[str, str], *commands: list[str]) -> str:
        """Run manage.py commands one after the other; answer what the last one printed."""
        log = self.folder.logs / "preparation.log"
        parted = [word for command in commands for word in ("+", *command)]
        name = " and ".join(f"manage.py {command[0]}" for command in commands)
        self.supervisor.run_step(self._command(name, log, environment, "-m", "config.private.steps", *parted))
        return log.read_text().rpartition(f"{MARK}{commands[-1][0]}\n")[2].strip("\n")

    def _worker(self) -> Command:
        arguments = "worker --pool=prefork --concurrency=2 --without-gossip --without-mingle --loglevel=INFO"
        environment = with_seal_key(self.environment, self.folder)
        return self._celery("The worker", self.folder.logs / "worker.log", environment, arguments.split())

    def _schedule(self) -> Command:
        arguments = ["beat", "--pidfile=", f"--schedule={self.folder.state / 'schedule'}", "--loglevel=INFO"]
        return self._celery("The schedule", self.folder.logs / "schedule.log", self.environment, arguments)

    def _celery(self, name: str, log: Path, environment: Mapping[str, str], arguments: list[str]) -> Command:
        return self._command(name, log, environment, "-m", "celery", "-A", "config", *arguments)

    def _command(
        self, name: str, log: Path, environment: Mapping[str, str], *arguments: str | Path
    ) -> Command:
        return Command(
            name, (sys.executable, *arguments), environment, log, CHECKOUT, stop_seconds=_STOP_SECONDS
        )
