"""A private Redis: a free loopback port, a password, nothing written to disk, and no key ever evicted.

Messages only: business facts live in PostgreSQL, so losing all of this loses nothing.
"""

import os
import socket
from dataclasses import dataclass
from pathlib import Path

from config.private.machine import User, redis_program
from config.private.processes import Command

START_SECONDS = 15.0
_SETTINGS = """\
bind 127.0.0.1
port {port}
protected-mode yes
requirepass {password}
save ""
appendonly no
maxmemory-policy noeviction
daemonize no
"""


@dataclass(frozen=True)
class Redis:
    home: Path
    user: User | None
    password: str

    def command(self, *, port: int, log: Path) -> Command:
        """Write its settings (the password must not stand in a command line) and say how to start it."""
        folder = self.home / "redis"
        folder.mkdir(mode=0o700, exist_ok=True)
        settings = folder / "redis.conf"
        settings.touch(mode=0o600)
        settings.write_text(_SETTINGS.format(port=port, password=self.password))
        if self.user:
            for path in (folder, settings):
                os.chown(path, self.user.uid, self.user.gid)
        return Command(
            name="Redis",
            arguments=(redis_program(), settings),
            environment={"PATH": os.environ.get("PATH", os.defpath), "LC_ALL": "C.UTF-8"},
            log=log,
            folder=folder,
            user=self.user,
            is_store=True,
        )

    def is_ready(self, port: int) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=1.0) as connection:
                connection.sendall(f"AUTH {self.password}\r\nPING\r\n".encode())
                answer = b""
                while answer.count(b"\r\n") < 2:
                    more = connection.recv(256)
                    if not more:
                        return False
                    answer += more
        except OSError:
            return False
        return answer == b"+OK\r\n+PONG\r\n"
