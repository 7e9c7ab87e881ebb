"""What this machine offers the private services: programs, an unprivileged user, free ports, reachable folders."""

import errno
import os
import pwd
import re
import shutil
import socket
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

OLDEST_POSTGRESQL_MAJOR = 15
# The ports of a system-wide PostgreSQL and Redis: whatever listens there is somebody else's.
FOREIGN_PORTS = frozenset({5432, 6379})
_POSTGRESQL_FOLDERS = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql@*/bin")


class MachineLacksError(Exception):
    """Something the private services need is not on this machine; the message says what and what to do."""


@dataclass(frozen=True)
class User:
    """Who a private service runs as when root starts it."""

    name: str
    uid: int
    gid: int


@dataclass(frozen=True)
class PostgresPrograms:
    major: int
    folder: Path

    @property
    def server(self) -> Path:
        return self.folder / "postgres"

    @property
    def initdb(self) -> Path:
        return self.folder / "initdb"


def unprivileged_user() -> User | None:
    """Who runs PostgreSQL and Redis when root starts them, for PostgreSQL refuses root; None when not root."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        return User(name, entry.pw_uid, entry.pw_gid)
    raise MachineLacksError(
        "PostgreSQL refuses to run as root, and there is no user postgres or nobody to run it."
    )


def postgres_programs() -> list[PostgresPrograms]:
    """Every PostgreSQL server on this machine that is new enough, newest first."""
    folders = [path for pattern in _POSTGRESQL_FOLDERS for path in Path("/").glob(pattern.lstrip("/"))]
    on_path = shutil.which("postgres")
    if on_path:
        folders.insert(0, Path(on_path).resolve().parent)
    found: dict[int, PostgresPrograms] = {}
    for folder in folders:
        major = _postgres_major(folder)
        if major is not None and major >= OLDEST_POSTGRESQL_MAJOR:
            found.setdefault(major, PostgresPrograms(major, folder))
    return [found[major] for major in sorted(found, reverse=True)]


def _postgres_major(folder: Path) -> int | None:
    if not (os.access(folder / "postgres", os.X_OK) and os.access(folder / "initdb", os.X_OK)):
        return None
    answer = subprocess.run([folder / "postgres", "--version"], capture_output=True, text=True, check=False)
    version = re.search(r"\(PostgreSQL\) (\d+)", answer.stdout)
    return int(version.group(1)) if version else None


def redis_program() -> Path:
    """The Redis server, or Valkey, which speaks the same and is set up the same way."""
    found = shutil.which("redis-server") or shutil.which("valkey-server")
    if not found:
        raise MachineLacksError("There is no redis-server and no valkey-server on this machine.")
    return Path(found)


def free_port(preferred: int | None = None) -> int:
    """A loopback port nobody listens on: the preferred one when it is free, else one the system picks."""
    if preferred and preferred not in FOREIGN_PORTS and is_free(preferred):
        return preferred
    while True:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        if port not in FOREIGN_PORTS:
            return port


def is_free(port: int) -> bool:
    """Whether nobody answers there. Binding would tell less: connections that die away look like a server."""
    with socket.socket() as probe:
        probe.settimeout(1.0)
        return probe.connect_ex(("127.0.0.1", port)) == errno.ECONNREFUSED


def hold_port(port: int) -> socket.socket | None:
    """Keep a free port for a server of ours that starts later; None when somebody has it.

    The web server would share its port with another of its kind that starts in between. What is held is the datagram
    port of the same number: no server of ours wants it, and every other ./run looks there.
    """
    if not is_free(port):
        return None
    held = socket.socket(type=socket.SOCK_DGRAM)
    try:
        held.bind(("127.0.0.1", port))
    except OSError:
        held.close()
        return None
    return held


def hold_any_port() -> socket.socket:
    """Keep a free port, whichever."""
    while True:
        held = hold_port(free_port())
        if held:
            return held


def can_enter(folder: Path, user: User | None) -> bool:
    """Whether this user can reach the folder, asked by going there: permissions alone do not tell all."""
    if user is None:
        return os.access(folder, os.X_OK)
    answer = subprocess.run(
        ["/bin/sh", "-c", 'cd -- "$1"', "sh", folder],
        user=user.uid,
        group=user.gid,
        extra_groups=[],
        cwd="/",
        stderr=subprocess.DEVNULL,
        check=False,
    )
    return answer.returncode == 0


def new_reachable_folder(user: User | None, *, lasting: bool) -> Path:
    """A new folder that this user can reach, outside the checkout; a lasting one survives a restart of the machine."""
    for base in ("/var/lib", "/var/tmp") if lasting else (tempfile.gettempdir(), "/var/tmp"):  # noqa: S108 - mkdtemp
        try:
            folder = Path(tempfile.mkdtemp(prefix="slake-", dir=base))
        except OSError:
            continue
        folder.chmod(0o711)
        if can_enter(folder, user):
            return folder
        folder.rmdir()
    who = user.name if user else "this user"
    raise MachineLacksError(
        f"Found no folder for the database that {who} can reach; set SLAKE_DATA_DIR to one."
    )
