"""One process started for us: in a session of its own, logged to a file, and stopped when its starter dies."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from config.private.machine import User

_PR_SET_PDEATHSIG = 1
_LIBC = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None
POLL_SECONDS = 0.1


@dataclass(frozen=True)
class Command:
    """What to start, and how it is told to stop."""

    name: str
    arguments: tuple[str | Path, ...]
    environment: Mapping[str, str]
    log: Path
    folder: Path
    user: User | None = None
    stop_signal: signal.Signals = signal.SIGTERM
    stop_seconds: float = 6.0
    is_store: bool = False


@dataclass
class Child:
    command: Command
    process: subprocess.Popen[bytes]
    started_at_s: float = field(default_factory=time.monotonic)

    @property
    def has_ended(self) -> bool:
        """Seen without collecting it: until `finish` does that, its number can not become a stranger's."""
        if self.process.returncode is not None:
            return True
        return os.waitid(os.P_PID, self.process.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None

    def tell_to_stop(self) -> None:
        if not self.has_ended:
            self.process.send_signal(self.command.stop_signal)

    def finish(self, seconds: float = 0.0) -> int:
        """Wait so long for the process to end, then end it and whatever it left in its session.

        Answers the exit code, below zero when a signal ended it.
        """
        deadline_s = time.monotonic() + seconds
        while not self.has_ended and time.monotonic() < deadline_s:
            time.sleep(POLL_SECONDS / 2)
        if self.process.returncode is None:
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(self.process.pid, signal.SIGKILL)
        return self.process.wait()

    def last_lines(self, count: int = 15) -> str:
        return last_lines(self.command.log, count)


def start(command: Command) -> Child:
    """Start it with its output added to its log. Call from the main thread: the tie to us is the thread's."""
    command.log.parent.mkdir(parents=True, exist_ok=True)
    user = command.user
    with command.log.open("ab") as log:
        process = subprocess.Popen(
            command.arguments,
            env=dict(command.environment),
            cwd=command.folder,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            user=user.uid if user else None,
            group=user.gid if user else None,
            extra_groups=[] if user else None,
            preexec_fn=stop_with_parent(command.stop_signal),  # noqa: PLW1509 - one thread only
        )
    return Child(command, process)


def stop_with_parent(stop_signal: signal.Signals) -> Callable[[], None] | None:
    """What a new process does before its program is loaded, so that it is told to stop when we die, however we die.

    Linux only; elsewhere an orderly end of ours stops what we started, and a violent one does not.
    """
    if _LIBC is None:
        return None
    libc, parent = _LIBC, os.getpid()

    def tie() -> None:
        libc.prctl(_PR_SET_PDEATHSIG, int(stop_signal), 0, 0, 0)
        if os.getppid() != parent:
            os._exit(1)

    return tie


def is_running(pid: int) -> bool:
    """Whether a process of this number runs. A dead one not yet collected answers a signal but does not run."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except (OSError, IndexError):
        if Path("/proc/self/stat").exists():
            return False
        return _answers_a_signal(pid)
    return state not in "ZX"


def command_line(pid: int) -> str:
    """The arguments a process was started with, or nothing when it is gone or this machine does not tell."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace").strip()
    except OSError:
        return ""


def last_lines(log: Path, count: int = 15) -> str:
    try:
        lines = log.read_text(errors="replace").splitlines()
    except OSError:
        return ""
    return "\n".join(lines[-count:])


def _answers_a_signal(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
