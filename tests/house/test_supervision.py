"""Starting and stopping a set of processes, with small stand-ins for the real ones."""

import os
import signal
import socket
import sys
import time
from pathlib import Path

import pytest

from config.private.environment import (
    as_owner,
    base_environment,
    demo_environment,
    only_ours,
    with_seal_key,
)
from config.private.folder import DataFolder, Running
from config.private.machine import hold_any_port, hold_port, is_free
from config.private.processes import Command, is_running
from config.private.services import Addresses
from config.private.supervisor import ProcessEndedError, StopAsked, Supervisor, how_it_ended

OBEDIENT = "import time; time.sleep(60)"
STUBBORN = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(60)"
# As a worker with its pool: the parent obeys and leaves a child behind.
WITH_A_CHILD = """
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
print(child.pid, flush=True)
time.sleep(60)
"""


@pytest.fixture
def command(tmp_path):
    def make(source, name="The stand-in", **more):
        log = tmp_path / f"{name}.log"
        return Command(name, (sys.executable, "-c", source), dict(os.environ), log, tmp_path, **more)

    return make


def wait_for_words(log):
    deadline_s = time.monotonic() + 10
    while not log.exists() or not log.read_text().strip():
        assert time.monotonic() < deadline_s
        time.sleep(0.02)
    return log.read_text().strip()


def test_leaving_stops_what_was_started(command):
    with Supervisor() as supervisor:
        child = supervisor.start(command(OBEDIENT))
        assert is_running(child.process.pid)
    assert child.process.returncode == -signal.SIGTERM


def test_one_that_does_not_hear_is_ended_after_its_time(command):
    with Supervisor() as supervisor:
        child = supervisor.start(command(STUBBORN, stop_seconds=0.3))
        wait_for_words(child.command.log)
        began_s = time.monotonic()
    assert child.process.returncode == -signal.SIGKILL
    assert 0.3 <= time.monotonic() - began_s < 3


def test_what_a_process_leaves_behind_goes_with_it(command):
    with Supervisor() as supervisor:
        child = supervisor.start(command(WITH_A_CHILD))
        left = int(wait_for_words(child.command.log))
        assert is_running(left)
    deadline_s = time.monotonic() + 5
    while is_running(left) and time.monotonic() < deadline_s:
        time.sleep(0.02)
    assert not is_running(left)


def test_stores_stop_last(command):
    noted = "import signal, time\ndef end(*_):\n print(time.time_ns()); raise SystemExit\nsignal.signal(signal.SIGTERM, end)\n"
    noted += "print('ready', flush=True)\ntime.sleep(60)"
    with Supervisor() as supervisor:
        store = supervisor.start(command(noted, "The store", is_store=True))
        user = supervisor.start(command(noted, "Its user"))
        for child in (store, user):
            wait_for_words(child.command.log)
    stopped = [int(child.command.log.read_text().split()[-1]) for child in (user, store)]
    assert stopped == sorted(stopped)


def test_the_first_to_end_by_itself_is_named_with_its_last_words(command):
    with Supervisor() as supervisor:
        supervisor.start(command(OBEDIENT, "The web server"))
        supervisor.start(command("print('no more ink'); raise SystemExit(3)", "The worker"))
        with pytest.raises(ProcessEndedError) as ended:
            supervisor.watch()
    assert ended.value.what == "The worker stopped by itself (exit code 3)."
    assert ended.value.child.last_lines() == "no more ink"


def test_a_step_that_fails_stops_the_start(command):
    with (
        Supervisor() as supervisor,
        pytest.raises(ProcessEndedError, match=r"manage.py migrate failed \(exit code 1\)\."),
    ):
        supervisor.run_step(command("raise SystemExit(1)", "manage.py migrate"))


def test_a_step_does_not_outlive_a_service_it_needs(command):
    with Supervisor() as supervisor:
        supervisor.start(command("import time; time.sleep(0.3)", "PostgreSQL"))
        with pytest.raises(ProcessEndedError, match="PostgreSQL stopped by itself"):
            supervisor.run_step(command(OBEDIENT, "manage.py load_demo"))


def test_what_is_never_ready_is_given_up(command):
    with Supervisor() as supervisor:
        child = supervisor.start(command(OBEDIENT))
        with pytest.raises(ProcessEndedError, match="was not ready after 0 seconds"):
            supervisor.wait_until(lambda: False, child, seconds=0.2)


@pytest.mark.parametrize(
    "number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP], ids=lambda number: number.name
)
def test_a_signal_is_a_wish_to_stop_and_handlers_are_put_back(command, number):
    before = signal.getsignal(number)
    with Supervisor() as supervisor:
        supervisor.start(command(OBEDIENT))
        os.kill(os.getpid(), number)
        with pytest.raises(StopAsked):
            supervisor.watch()
    assert signal.getsignal(number) is before


def test_a_command_in_front_gives_its_exit_code_and_gets_our_signals():
    source = "import os, signal, time; os.kill(os.getppid(), signal.SIGTERM); time.sleep(30)"
    with Supervisor() as supervisor:
        assert supervisor.run_in_front([sys.executable, "-c", "raise SystemExit(7)"], dict(os.environ)) == 7
        assert supervisor.run_in_front([sys.executable, "-c", source], dict(os.environ)) == -signal.SIGTERM


@pytest.mark.parametrize(
    ("code", "words"),
    [(0, "exit code 0"), (2, "exit code 2"), (-9, "killed by SIGKILL"), (-15, "killed by SIGTERM")],
)
def test_an_exit_is_said_in_words(code, words):
    assert how_it_ended(code) == words


ADDRESSES = Addresses("postgresql://slake_app:a@h/slake", "postgresql://slake_owner:o@h/slake", "redis://r")


@pytest.fixture
def environment(tmp_path, monkeypatch):
    monkeypatch.setenv("PGHOST", "elsewhere.example")
    monkeypatch.setenv("SLAKE_DATABASE_URL", "postgresql://elsewhere.example/other")
    monkeypatch.setenv("YARD_RULE_SET", "uk")
    return demo_environment(DataFolder(tmp_path), ADDRESSES, {"secret_key": "k"}, 8400)


def test_nothing_in_the_callers_environment_leads_to_another_database(environment):
    assert "PGHOST" not in environment
    assert environment["SLAKE_DATABASE_URL"] == ADDRESSES.database
    assert environment["YARD_RULE_SET"] == "uk"


def test_web_and_schedule_get_neither_the_owners_role_nor_the_way_to_the_seals_key(environment):
    assert ADDRESSES.owner_database not in environment.values()
    assert not any("SEAL" in name for name in environment)


def test_the_worker_alone_is_told_of_the_key_and_the_steps_alone_of_the_owner(environment, tmp_path):
    worker = with_seal_key(environment, DataFolder(tmp_path))
    assert worker["SLAKE_PROCESS"] == "worker"
    assert worker["SLAKE_SEAL_KEY_FILE"] == str(tmp_path / "seal" / "seal.key")
    owner = as_owner(environment, ADDRESSES)
    assert owner["SLAKE_DATABASE_ROLE"] == "owner"
    assert owner["SLAKE_OWNER_DATABASE_URL"] == ADDRESSES.owner_database


def test_another_window_finds_what_runs(environment, tmp_path):
    folder = DataFolder(tmp_path)
    assert folder.what_runs() is None
    running = Running(1234, "http://127.0.0.1:8400", only_ours(environment), {})
    folder.announce(running)
    assert folder.what_runs() == running
    assert folder.running.stat().st_mode & 0o777 == 0o600
    assert "PATH" in base_environment()
    assert "PATH" not in running.environment


def test_logs_of_the_last_start_are_kept_apart(tmp_path):
    folder = DataFolder(tmp_path)
    folder.keep_former_logs()
    (folder.logs / "web.log").write_text("yesterday")
    folder.keep_former_logs()
    assert not (folder.logs / "web.log").exists()
    assert (folder.logs / "before" / "web.log").read_text() == "yesterday"


def test_it_needs_nothing_but_the_standard_library():
    """So that what starts the database runs before anything else does."""
    private = Path(__file__).resolve().parent.parent.parent / "config" / "private"
    for module in sorted(private.glob("*.py")):
        for line in module.read_text().splitlines():
            if line.startswith(("import ", "from ")):
                name = line.split()[1].split(".")[0]
                assert name in sys.stdlib_module_names or line.split()[1].startswith("config.private"), (
                    f"{module.name}: {line}"
                )


def test_a_command_in_front_is_ended_when_what_it_stands_on_ends(command):
    with Supervisor() as supervisor:
        supervisor.start(command("import time; time.sleep(0.3)", "PostgreSQL"))
        with pytest.raises(ProcessEndedError, match="PostgreSQL stopped by itself"):
            supervisor.run_in_front([sys.executable, "-c", OBEDIENT], dict(os.environ))


def test_a_held_port_is_ours_to_serve_and_no_other_runs_to_take():
    with hold_any_port() as held:
        port = held.getsockname()[1]
        assert hold_port(port) is None
        with socket.create_server(("127.0.0.1", port)):
            assert not is_free(port)


def test_a_port_whose_connections_die_away_is_free():
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        port = server.getsockname()[1]
        with socket.create_connection(("127.0.0.1", port), timeout=2) as client:
            server.accept()[0].close()
            client.recv(1)
    held = hold_port(port)
    assert held
    held.close()


def test_a_port_let_go_can_be_held_again():
    with hold_any_port() as held:
        port = held.getsockname()[1]
    again = hold_port(port)
    assert again
    again.close()
