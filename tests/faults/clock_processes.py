"""A worker, a schedule and a Redis of a test's own, over the test's database, to be killed and stood up again."""

from __future__ import annotations

import os
import signal
import sys
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

import redis
from django.db import connection

from config.private.folder import CHECKOUT
from config.private.machine import free_port
from config.private.processes import Child, Command, start
from config.private.redis import Redis

WORKER = "worker --pool=prefork --concurrency=2 --without-gossip --without-mingle --loglevel=INFO"
PASSWORD = "of-this-test-alone"


class Clock:
    """kills: how often the worker was killed, whoever did it."""

    def __init__(self, folder: Path, mail_port: int) -> None:
        self._folder, self._redis_port = folder, free_port()
        self._redis = Redis(folder, None, PASSWORD)
        self._address = f"redis://:{PASSWORD}@127.0.0.1:{self._redis_port}/0"
        self._environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.faults.clock_settings",
            "SLAKE_MODE": "demo",
            "SLAKE_DATABASE_URL": _database(),
            "SLAKE_REDIS_URL": self._address,
            "SLAKE_SMTP_HOST": "127.0.0.1",
            "SLAKE_SMTP_PORT": str(mail_port),
            "SLAKE_SMTP_SECURITY": "none",
        }
        self._children: dict[str, Child] = {}
        self.kills = 0

    def stand_up(self) -> None:
        """Start whatever does not run, the store first. To be called from the main thread."""
        for name in ("redis", "worker", "beat"):
            child = self._children.get(name)
            if child is None or child.has_ended:
                if child is not None:
                    child.finish()
                self._children[name] = start(self._command(name))

    def _command(self, name: str) -> Command:
        log = self._folder / f"{name}.log"
        if name == "redis":
            return self._redis.command(port=self._redis_port, log=log)
        beat = ["beat", "--pidfile=", f"--schedule={self._folder / 'schedule'}", "--loglevel=INFO"]
        words = WORKER.split() if name == "worker" else beat
        arguments = (sys.executable, "-m", "celery", "-A", "config", *words)
        return Command(name, arguments, self._environment, log, CHECKOUT)

    def kill(self, name: str) -> None:
        """Every process of it at once, with whatever it was doing. From any thread; stand_up collects it."""
        child = self._children.get(name)
        if child is None or child.process.returncode is not None:
            return
        self.kills += name == "worker"
        with suppress(ProcessLookupError):
            os.killpg(child.process.pid, signal.SIGKILL)

    def wipe(self) -> None:
        """Redis forgets everything and lives on."""
        with suppress(redis.RedisError), redis.Redis.from_url(self._address, socket_timeout=2) as client:
            client.flushall()

    def knock(self, what: str) -> None:
        if what == "wiped":
            self.wipe()
            return
        for name in ("worker", "beat", "redis") if what == "everything" else (what,):
            self.kill(name)

    def end(self) -> None:
        for name, child in self._children.items():
            self.kill(name)
            child.finish()

    def last_words(self) -> str:
        return self._children["worker"].last_lines(30)


def _database() -> str:
    own = connection.settings_dict
    return f"postgresql://{own['USER']}:{quote(own['PASSWORD'])}@{own['HOST']}:{own['PORT']}/{own['NAME']}"
