"""The data folder of one checkout: what stays between starts, who holds it, and the secrets made for it."""

import fcntl
import json
import os
import secrets
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from config.private.machine import User, can_enter, new_reachable_folder

CHECKOUT = Path(__file__).resolve().parent.parent.parent
_OURS = ("logs", "files", "mail", "static", "seal", "state", "secrets.json", "running.json")
_MARK = "this-is-slake-data"
_SECRET_NAMES = ("owner_password", "app_password", "redis_password", "secret_key")


class FolderRefusedError(Exception):
    """The data folder is held by another process, or is not ours to use."""


@dataclass(frozen=True)
class Running:
    """What runs on a data folder just now."""

    process: int
    address: str
    environment: Mapping[str, str]
    owner_environment: Mapping[str, str]


@dataclass(frozen=True)
class DataFolder:
    root: Path

    @property
    def logs(self) -> Path:
        return self.root / "logs"

    @property
    def files(self) -> Path:
        return self.root / "files"

    @property
    def mail(self) -> Path:
        """Where the demo's mails go, one file a mail: no mail server is needed."""
        return self.root / "mail"

    @property
    def static(self) -> Path:
        return self.root / "static"

    @property
    def seal_key(self) -> Path:
        return self.root / "seal" / "seal.key"

    @property
    def seal_certificate(self) -> Path:
        return self.root / "seal" / "seal.crt"

    @property
    def state(self) -> Path:
        """Small remembered facts: ports, when the demo was loaded, the schedule's last runs."""
        return self.root / "state"

    @property
    def running(self) -> Path:
        """Present while something runs on this folder: its environment, for `./run manage` in another window."""
        return self.root / "running.json"

    def hold(self) -> IO[str]:
        """Take the folder for this process alone; it is let go when the answer is closed or the process dies."""
        self.root.mkdir(parents=True, exist_ok=True)
        mark = self.root / _MARK
        if not mark.exists():
            # `--fresh` deletes: never in a folder that somebody filled with something else.
            if any(self.root.iterdir()):
                raise FolderRefusedError(
                    f"{self.root} is not empty and is no data folder of Slake's; name another."
                )
            mark.touch()
        lock = (self.root / "lock").open("a+")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            lock.close()
            raise FolderRefusedError(f"{self.root} is in use by another ./run.") from None
        return lock

    def secrets(self) -> Mapping[str, str]:
        """Passwords and the signing key made for this folder alone, readable by its owner only."""
        file = self.root / "secrets.json"
        if not file.exists():
            made = {name: secrets.token_urlsafe(48) for name in _SECRET_NAMES}
            write_privately(file, json.dumps(made))
        kept: dict[str, str] = json.loads(file.read_text())
        return kept

    def services_home(self, user: User | None) -> Path:
        """Where PostgreSQL and Redis keep their data.

        Inside the folder, unless their user can not reach it (a checkout under root's own home): then elsewhere,
        remembered by a link.
        """
        home = self.root / "services"
        if home.is_symlink() and not home.exists():
            home.unlink()
        if not home.exists():
            if can_enter(self.root, user):
                home.mkdir(mode=0o711)
            else:
                home.symlink_to(new_reachable_folder(user, lasting=True))
        return home.resolve()

    def announce(self, running: Running) -> None:
        """Let other windows join what now runs on this folder."""
        write_privately(self.running, json.dumps(asdict(running)))

    def what_runs(self) -> Running | None:
        try:
            return Running(**json.loads(self.running.read_text()))
        except (OSError, ValueError, TypeError):
            return None

    def keep_former_logs(self) -> None:
        """Set the logs of the last start aside, so that each start's own can be read from its beginning."""
        former = self.logs / "before"
        self.logs.mkdir(mode=0o700, parents=True, exist_ok=True)
        former.mkdir(exist_ok=True)
        for log in self.logs.iterdir():
            if log.is_file():
                log.replace(former / log.name)

    def clear(self) -> None:
        """Forget all that was made here; the lock, which is held, and the mark stay."""
        services = self.root / "services"
        if services.exists():
            shutil.rmtree(services.resolve())
        if services.is_symlink():
            services.unlink()
        for name in _OURS:
            entry = self.root / name
            if entry.is_dir():
                shutil.rmtree(entry)
            else:
                entry.unlink(missing_ok=True)


def demo_folder() -> DataFolder:
    """The demo's data: $SLAKE_DATA_DIR, or .slake/demo in the checkout."""
    chosen = os.environ.get("SLAKE_DATA_DIR", "").strip()
    return DataFolder((Path(chosen) if chosen else CHECKOUT / ".slake" / "demo").absolute())


def write_privately(file: Path, text: str) -> None:
    """Write a file only its owner can read, whole or not at all."""
    unfinished = file.with_name(f"{file.name}.unfinished")
    with suppress(FileNotFoundError):
        unfinished.unlink()
    with os.fdopen(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
        out.write(text)
    unfinished.replace(file)
