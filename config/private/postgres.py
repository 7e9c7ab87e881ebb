"""A private PostgreSQL: its own data folder, one free loopback port, two roles and no way in for anybody else."""

import os
import re
import shutil
import signal
import subprocess
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from config.private.machine import MachineLacksError, PostgresPrograms, User, postgres_programs
from config.private.processes import Command, command_line, is_running

OWNER_ROLE, APP_ROLE = "slake_owner", "slake_app"
DATABASE = "slake"
START_SECONDS = 40.0
_FOLDER_NAME = re.compile(r"postgresql-(\d+)")
_SUPERUSER = "postgres"
# Nobody but the two roles, by password, over loopback: the superuser has no way in at all.
_ACCESS_RULES = f"host all {OWNER_ROLE},{APP_ROLE} 127.0.0.1/32 scram-sha-256\n"
_THROWAWAY = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")


@dataclass(frozen=True)
class Passwords:
    owner: str
    app: str


@dataclass(frozen=True)
class Postgres:
    """One data folder with the programs that made it.

    `throwaway` is for tests: it forgets to be safe against a power cut, lets the owner make databases and
    lets it take the application's role on.
    """

    programs: PostgresPrograms
    home: Path
    user: User | None
    throwaway: bool = False

    @property
    def data(self) -> Path:
        return self.home / f"postgresql-{self.programs.major}"

    def prepare(self, passwords: Passwords) -> None:
        """Make the data folder with its roles and database, unless it is there.

        It is made under another name and renamed when complete, so a start that was cut short leaves no half.
        """
        if self.data.exists():
            return
        unfinished = self.home / f"{self.data.name}.unfinished"
        shutil.rmtree(unfinished, ignore_errors=True)
        unfinished.mkdir(mode=0o700)
        if self.user:
            os.chown(unfinished, self.user.uid, self.user.gid)
        self._initdb(unfinished)
        (unfinished / "pg_hba.conf").write_text(_ACCESS_RULES)
        self._tell_before_first_start(unfinished, self._first_statements(passwords))
        unfinished.rename(self.data)

    def clear_what_is_left(self) -> None:
        """Make a data folder whose server was killed startable: stop an orphan, forget a dead one's lock file."""
        pid = self._locked_by()
        if pid is None:
            return
        if is_running(pid) and str(self.data) in command_line(pid):
            _stop_orphan(pid)
        if not is_running(pid) or str(self.data) not in command_line(pid):
            (self.data / "postmaster.pid").unlink(missing_ok=True)

    def command(self, *, port: int, log: Path) -> Command:
        settings = [
            "listen_addresses=127.0.0.1",
            f"port={port}",
            "unix_socket_directories=",
            "timezone=UTC",
            "log_timezone=UTC",
            "logging_collector=off",
            *(_THROWAWAY if self.throwaway else ()),
        ]
        flags = [part for setting in settings for part in ("-c", setting)]
        return Command(
            name="PostgreSQL",
            arguments=(self.programs.server, "-D", self.data, *flags),
            environment=_environment(),
            log=log,
            folder=self.data,
            user=self.user,
            # SIGINT is its fast shutdown: sessions are ended, the data is written out.
            stop_signal=signal.SIGINT,
            stop_seconds=15.0,
            is_store=True,
        )

    def is_ready(self, pid: int) -> bool:
        """Whether the server with this process number takes connections, by its own lock file's eighth line."""
        try:
            lines = (self.data / "postmaster.pid").read_text().splitlines()
        except OSError:
            return False
        return len(lines) > 7 and lines[0] == str(pid) and lines[7].strip() == "ready"

    def _locked_by(self) -> int | None:
        try:
            return int((self.data / "postmaster.pid").read_text().split()[0])
        except (OSError, ValueError, IndexError):
            return None

    def _initdb(self, folder: Path) -> None:
        arguments: list[str | Path] = [self.programs.initdb, "-D", folder, f"--username={_SUPERUSER}"]
        arguments += ["--encoding=UTF8", "--locale=C.UTF-8", "--auth-local=reject", "--auth-host=reject"]
        arguments += ["--no-sync" if self.throwaway else "--data-checksums"]
        self._run(arguments, folder, "make its data folder")

    def _first_statements(self, passwords: Passwords) -> str:
        statements = [
            f"CREATE ROLE {OWNER_ROLE} LOGIN {'CREATEDB ' if self.throwaway else ''}PASSWORD '{passwords.owner}'",
            f"CREATE ROLE {APP_ROLE} LOGIN PASSWORD '{passwords.app}'",
            f"CREATE DATABASE {DATABASE} OWNER {OWNER_ROLE}",
            f"REVOKE ALL ON DATABASE {DATABASE} FROM PUBLIC",
            f"GRANT CONNECT ON DATABASE {DATABASE} TO {APP_ROLE}",
        ]
        if self.throwaway:
            statements.append(f"GRANT {APP_ROLE} TO {OWNER_ROLE}")
        return "".join(f"{statement}\n" for statement in statements)

    def _tell_before_first_start(self, folder: Path, statements: str) -> None:
        # Single-user mode: no port is open yet, so there is no moment in which a superuser could be reached.
        said = self._run(
            [
                self.programs.server,
                "--single",
                "-D",
                folder,
                "-c",
                "log_min_error_statement=panic",
                _SUPERUSER,
            ],
            folder,
            "set up its roles",
            statements,
        )
        if "ERROR:" in said or "FATAL:" in said:
            raise MachineLacksError(f"PostgreSQL could not set up its roles:\n{said.strip()}")

    def _run(self, arguments: list[str | Path], folder: Path, purpose: str, said: str = "") -> str:
        answer = subprocess.run(
            arguments,
            env=_environment(),
            cwd=folder,
            input=said,
            capture_output=True,
            text=True,
            check=False,
            user=self.user.uid if self.user else None,
            group=self.user.gid if self.user else None,
            extra_groups=[] if self.user else None,
        )
        if answer.returncode != 0:
            raise MachineLacksError(
                f"PostgreSQL could not {purpose}:\n{(answer.stderr or answer.stdout).strip()}"
            )
        return answer.stderr


def choose(home: Path, user: User | None, *, throwaway: bool = False) -> Postgres:
    """The programs for this home: those that made its data folder, or the newest here when it has none."""
    programs = postgres_programs()
    if not programs:
        raise MachineLacksError("There is no PostgreSQL server, version 15 or newer, on this machine.")
    made_by = {int(name.group(1)) for entry in home.iterdir() if (name := _FOLDER_NAME.fullmatch(entry.name))}
    fitting = [each for each in programs if each.major in made_by] if made_by else programs
    if not fitting:
        had, have = max(made_by), ", ".join(str(each.major) for each in programs)
        raise MachineLacksError(
            f"The data in {home} was made by PostgreSQL {had}, and this machine has only {have}. "
            f"Install PostgreSQL {had}, or start with a new data folder: ./run demo --fresh"
        )
    return Postgres(fitting[0], home, user, throwaway)


def _environment() -> Mapping[str, str]:
    return {"PATH": os.environ.get("PATH", os.defpath), "LC_ALL": "C.UTF-8", "TZ": "UTC"}


def _stop_orphan(pid: int) -> None:
    """Fast shutdown first, then immediate; the caller looks whether it went."""
    for stop, seconds in ((signal.SIGINT, 10.0), (signal.SIGQUIT, 5.0)):
        try:
            os.kill(pid, stop)
        except OSError:
            return
        deadline_s = time.monotonic() + seconds
        while is_running(pid) and time.monotonic() < deadline_s:
            time.sleep(0.1)
