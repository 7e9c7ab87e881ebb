"""Starts the private PostgreSQL and Redis together and says how to reach them."""

import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from config.private import postgres
from config.private.machine import free_port, unprivileged_user
from config.private.postgres import APP_ROLE, DATABASE, OWNER_ROLE, Passwords, Postgres
from config.private.processes import Child, Command
from config.private.redis import START_SECONDS as REDIS_START_SECONDS
from config.private.redis import Redis
from config.private.supervisor import ProcessEndedError, Supervisor

_PORT_TRIES = 3


@dataclass(frozen=True)
class Addresses:
    """Where the services of this start listen. Each address carries its role's password."""

    database: str
    owner_database: str
    redis: str


def start_services(
    supervisor: Supervisor,
    *,
    home: Path,
    secrets: Mapping[str, str],
    logs: Path,
    ports_file: Path,
    throwaway: bool = False,
) -> Addresses:
    """Start both and wait until both answer. Ports are those of last time where they are still free."""
    user = unprivileged_user()
    remembered = _remembered(ports_file)
    server = postgres.choose(home, user, throwaway=throwaway)
    server.prepare(Passwords(secrets["owner_password"], secrets["app_password"]))
    postgres_port = _start_postgres(supervisor, server, remembered.get("postgres"), logs / "postgresql.log")
    redis = Redis(home, user, secrets["redis_password"])
    redis_port = _start_redis(supervisor, redis, remembered.get("redis"), logs / "redis.log")
    ports_file.parent.mkdir(parents=True, exist_ok=True)
    ports_file.write_text(json.dumps({"postgres": postgres_port, "redis": redis_port}))
    place = f"127.0.0.1:{postgres_port}/{DATABASE}"
    return Addresses(
        database=f"postgresql://{APP_ROLE}:{secrets['app_password']}@{place}",
        owner_database=f"postgresql://{OWNER_ROLE}:{secrets['owner_password']}@{place}",
        redis=f"redis://:{secrets['redis_password']}@127.0.0.1:{redis_port}/0",
    )


@dataclass(frozen=True)
class _Attempt:
    """One try to start a server: how, and how to tell that it answers."""

    command: Command
    is_ready: Callable[[Child], bool]


def _start_postgres(supervisor: Supervisor, server: Postgres, preferred_port: int | None, log: Path) -> int:
    def attempt(port: int) -> _Attempt:
        server.clear_what_is_left()
        return _Attempt(server.command(port=port, log=log), lambda child: server.is_ready(child.process.pid))

    return _start_on_a_port(supervisor, attempt, preferred_port, postgres.START_SECONDS)


def _start_redis(supervisor: Supervisor, server: Redis, preferred_port: int | None, log: Path) -> int:
    def attempt(port: int) -> _Attempt:
        return _Attempt(server.command(port=port, log=log), lambda _child: server.is_ready(port))

    return _start_on_a_port(supervisor, attempt, preferred_port, REDIS_START_SECONDS)


def _start_on_a_port(
    supervisor: Supervisor, attempt: Callable[[int], _Attempt], preferred_port: int | None, seconds: float
) -> int:
    """Try until it answers: after a kill, what is left of the old server may stand in the way for some seconds."""
    deadline_s = time.monotonic() + seconds
    tries = 0
    while True:
        tries += 1
        port = free_port(preferred_port if tries < _PORT_TRIES else None)
        this = attempt(port)
        child = supervisor.start(this.command)
        try:
            supervisor.wait_until(partial(this.is_ready, child), child, seconds=seconds)
        except ProcessEndedError as ended:
            if ended.child is not child or not child.has_ended or time.monotonic() > deadline_s:
                raise
            time.sleep(1.0)
        else:
            return port


def _remembered(ports_file: Path) -> dict[str, int]:
    try:
        kept = json.loads(ports_file.read_text())
    except (OSError, ValueError):
        return {}
    return {name: port for name, port in kept.items() if isinstance(port, int)}
