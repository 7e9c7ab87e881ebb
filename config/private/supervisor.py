"""Starts processes in order, notices the first that ends or the wish to stop, and stops them all in reverse."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from types import FrameType, TracebackType
from typing import Self

from config.private.processes import POLL_SECONDS, Child, Command, start, stop_with_parent

_STOPPING_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class StopAsked(Exception):
    """Ctrl-C, or a signal that means the same."""


class ProcessEndedError(Exception):
    """A process that should have gone on ended by itself, or a step failed, or something was not ready in time."""

    def __init__(self, child: Child, what: str) -> None:
        super().__init__(what)
        self.child = child
        self.what = what


class Supervisor:
    """`with Supervisor() as supervisor:` - whatever was started in it has been stopped after it."""

    def __init__(self) -> None:
        self._children: list[Child] = []
        self._asked = 0
        self._passes_on_to: subprocess.Popen[bytes] | None = None
        self._former: dict[signal.Signals, object] = {}

    def __enter__(self) -> Self:
        for number in _STOPPING_SIGNALS:
            self._former[number] = signal.signal(number, self._note)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            self.stop_all()
        finally:
            for number, former in self._former.items():
                signal.signal(number, former)  # type: ignore[arg-type]

    def start(self, command: Command) -> Child:
        """Start what is to run until we stop."""
        self._look()
        child = start(command)
        self._children.append(child)
        return child

    def run_step(self, command: Command) -> None:
        """Run what ends by itself, watching the others meanwhile; refuse to go on when it fails."""
        self._look()
        step = start(command)
        try:
            while not step.has_ended:
                time.sleep(POLL_SECONDS)
                self._look()
        except BaseException:
            step.tell_to_stop()
            step.finish(command.stop_seconds)
            raise
        code = step.finish()
        if code != 0:
            raise ProcessEndedError(step, f"{command.name} failed ({how_it_ended(code)}).")

    def run_in_front(self, arguments: Iterable[str], environment: dict[str, str]) -> int:
        """Run a person's own command at this terminal, watching the others meanwhile; answer its exit code.

        Ctrl-C reaches it from the terminal itself, so we only wait; a signal sent to us alone is passed on.
        """
        self._look()
        process = subprocess.Popen(
            list(arguments),
            env=environment,
            preexec_fn=stop_with_parent(signal.SIGTERM),  # noqa: PLW1509 - one thread only
        )
        self._passes_on_to = process
        try:
            while process.poll() is None:
                time.sleep(POLL_SECONDS)
                self._look()
            return process.returncode
        finally:
            self._passes_on_to = None
            process.terminate()
            process.wait()

    def wait_until(self, is_ready: Callable[[], bool], child: Child, *, seconds: float) -> None:
        deadline_s = time.monotonic() + seconds
        while not is_ready():
            self._look()
            if time.monotonic() > deadline_s:
                raise ProcessEndedError(
                    child, f"{child.command.name} was not ready after {seconds:.0f} seconds."
                )
            time.sleep(POLL_SECONDS)

    def drop(self, child: Child) -> None:
        """Stop one process and no longer expect it to run."""
        child.tell_to_stop()
        child.finish(child.command.stop_seconds)
        self._children.remove(child)

    def watch(self) -> None:
        """Come back only by `StopAsked` or `ProcessEndedError`."""
        while True:
            self._look()
            time.sleep(POLL_SECONDS)

    def stop_all(self) -> None:
        """Everything but the two stores at once, then the stores, each within its own time."""
        asked_before = self._asked
        stores = [child for child in self._children if child.command.is_store]
        for group in ([child for child in self._children if child not in stores], stores[::-1]):
            for child in group:
                child.tell_to_stop()
            for child in group:
                # A second Ctrl-C says: not so politely.
                hurried = self._asked > asked_before and self._asked > 1
                child.finish(0.0 if hurried else child.command.stop_seconds)
        self._children.clear()

    def _look(self) -> None:
        if self._asked:
            raise StopAsked
        for child in self._children:
            if child.has_ended:
                name = child.command.name
                self._children.remove(child)
                code = child.finish()
                raise ProcessEndedError(child, f"{name} stopped by itself ({how_it_ended(code)}).")

    def _note(self, number: int, _frame: FrameType | None) -> None:
        front = self._passes_on_to
        if front is None:
            self._asked += 1
        elif front.poll() is None and not (number == signal.SIGINT and sys.stdin.isatty()):
            front.send_signal(number)


def how_it_ended(code: int) -> str:
    """An exit code in words."""
    if code >= 0:
        return f"exit code {code}"
    try:
        return f"killed by {signal.Signals(-code).name}"
    except ValueError:
        return f"killed by signal {-code}"
