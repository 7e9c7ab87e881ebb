"""The private PostgreSQL and Redis, for real: roles, restarts, kills, and that nothing is left running."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import psycopg
import pytest
import redis

from config.private.folder import DataFolder, FolderRefusedError
from config.private.machine import new_reachable_folder, postgres_programs, unprivileged_user
from config.private.postgres import Passwords, Postgres, choose
from config.private.processes import is_running

CHECKOUT = Path(__file__).resolve().parent.parent.parent
# A whole start with its parent's life tied to it, as ./run demo does, without the application.
DRIVER = """
import json, sys
from dataclasses import asdict
from pathlib import Path
from config.private.folder import DataFolder
from config.private.machine import unprivileged_user
from config.private.services import start_services
from config.private.supervisor import ProcessEndedError, StopAsked, Supervisor

folder = DataFolder(Path(sys.argv[1]))
with folder.hold():
    try:
        with Supervisor() as supervisor:
            addresses = start_services(
                supervisor, home=folder.services_home(unprivileged_user()), secrets=folder.secrets(),
                logs=folder.logs, ports_file=folder.state / "ports.json", throwaway=True)
            print(json.dumps(asdict(addresses)), flush=True)
            supervisor.watch()
    except StopAsked:
        print("asked to stop", flush=True)
    except ProcessEndedError as ended:
        print(ended.what, flush=True)
"""


@contextmanager
def new_folder():
    root = new_reachable_folder(unprivileged_user(), lasting=False)
    yield DataFolder(root)
    for pid in processes_in(root):
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    shutil.rmtree(root, ignore_errors=True)


@pytest.fixture
def folder():
    with new_folder() as made:
        yield made


class Set:
    """One running driver and what it said."""

    def __init__(self, folder):
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-c", DRIVER, folder.root], cwd=CHECKOUT, stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout
        first = self.process.stdout.readline()
        assert first, "the services did not start"
        self.addresses = json.loads(first)

    def stop(self, number):
        began_s = time.monotonic()
        self.process.send_signal(number)
        said, _ = self.process.communicate(timeout=30)
        return said.strip(), time.monotonic() - began_s

    def kill(self):
        self.process.kill()
        self.process.communicate(timeout=10)


@pytest.fixture
def running(folder):
    """A set of one test's own, for what stops or changes it."""
    started = Set(folder)
    yield started
    started.kill()


@pytest.fixture(scope="module")
def shared():
    """A set for tests that only ask it something."""
    with new_folder() as made:
        started = Set(made)
        yield started
        started.kill()


def processes_in(root):
    """Numbers of all processes that work in a folder of this start: PostgreSQL, its children, and Redis."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError):
                if str(root) in str((entry / "cwd").readlink()) and is_running(int(entry.name)):
                    found.append(int(entry.name))
    return found


def gone_within(root, seconds):
    deadline_s = time.monotonic() + seconds
    while processes_in(root) and time.monotonic() < deadline_s:
        time.sleep(0.05)
    return processes_in(root) == []


def postmaster(folder):
    name = next((folder.root / "services").glob("postgresql-*"))
    return int((name / "postmaster.pid").read_text().split()[0])


def test_the_owner_makes_tables_and_the_application_may_not(shared):
    with psycopg.connect(shared.addresses["owner_database"]) as owner:
        owner.execute("CREATE TABLE told (words text)")
        owner.execute("CREATE EXTENSION btree_gist")
    with (
        psycopg.connect(shared.addresses["database"]) as app,
        pytest.raises(psycopg.errors.InsufficientPrivilege),
    ):
        app.execute("CREATE TABLE more (words text)")


def test_the_superuser_has_no_way_in(shared):
    address = shared.addresses["database"].replace("slake_app:", "postgres:")
    with pytest.raises(psycopg.OperationalError, match=r"no pg_hba\.conf entry"):
        psycopg.connect(address)


def test_a_wrong_password_is_refused(shared):
    secret = shared.folder.secrets()["app_password"]
    with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
        psycopg.connect(shared.addresses["database"].replace(secret, "wrong"))


def test_redis_wants_its_password_and_never_evicts(shared):
    with closing(redis.Redis.from_url(shared.addresses["redis"])) as known:
        assert known.config_get("maxmemory-policy") == {"maxmemory-policy": "noeviction"}
        port = known.connection_pool.connection_kwargs["port"]
    with closing(redis.Redis(port=port)) as stranger, pytest.raises(redis.AuthenticationError):
        stranger.ping()


def test_both_listen_on_loopback_alone_and_leave_the_machines_own_ports(shared):
    ports = json.loads((shared.folder.state / "ports.json").read_text())
    assert {5432, 6379}.isdisjoint(ports.values())
    heard_on = {
        line.split()[1]
        for line in Path("/proc/net/tcp").read_text().splitlines()[1:]
        if line.split()[3] == "0A" and int(line.split()[1].split(":")[1], 16) in ports.values()
    }
    assert {address.split(":")[0] for address in heard_on} == {"0100007F"}
    assert len(heard_on) == 2


@pytest.mark.parametrize(
    "number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP], ids=lambda number: number.name
)
def test_a_stop_leaves_nothing_running_within_seconds(running, number):
    said, seconds = running.stop(number)
    assert said == "asked to stop"
    assert seconds < 5
    assert processes_in(running.folder.root) == []


def test_a_second_start_keeps_data_passwords_and_ports(running):
    with psycopg.connect(running.addresses["owner_database"]) as owner:
        owner.execute("CREATE TABLE told (words text)")
        owner.execute("INSERT INTO told VALUES ('kept')")
    running.stop(signal.SIGINT)
    again = Set(running.folder)
    try:
        assert again.addresses == running.addresses
        with psycopg.connect(again.addresses["owner_database"]) as owner:
            assert owner.execute("SELECT words FROM told").fetchall() == [("kept",)]
    finally:
        again.stop(signal.SIGINT)


def test_the_services_die_with_their_killed_starter_and_start_again_at_once(running):
    running.stop(signal.SIGKILL)
    again = Set(running.folder)
    again.stop(signal.SIGKILL)
    assert gone_within(running.folder.root, 15)


def test_a_killed_database_is_reported_and_the_rest_stopped(running):
    os.kill(postmaster(running.folder), signal.SIGKILL)
    said, _ = running.process.communicate(timeout=30)
    assert said.strip() == "PostgreSQL stopped by itself (killed by SIGKILL)."
    assert gone_within(running.folder.root, 10)
    again = Set(running.folder)
    assert again.stop(signal.SIGINT)[0] == "asked to stop"


def test_a_folder_in_use_is_refused(shared):
    with pytest.raises(FolderRefusedError, match="in use by another"):
        shared.folder.hold()


@pytest.fixture
def server(folder):
    user = unprivileged_user()
    return choose(folder.services_home(user), user, throwaway=True)


def test_what_an_interrupted_first_start_left_is_made_anew(server):
    left = server.home / f"{server.data.name}.unfinished"
    left.mkdir()
    (left / "PG_VERSION").write_text("half")
    server.prepare(Passwords("one", "two"))
    assert (server.data / "global").is_dir()
    assert not left.exists()


def zombie():
    """A process that has ended and is not collected: it answers a signal and yet does not run."""
    process = subprocess.Popen(["/bin/true"])
    while is_running(process.pid):
        time.sleep(0.01)
    return process


@pytest.mark.parametrize("whose", ["a zombie's", "nobody's", "a stranger's"])
def test_a_lock_file_with_a_number_that_is_not_the_servers_is_forgotten(server, whose):
    server.data.mkdir()
    dead = zombie()
    os.kill(dead.pid, 0)
    number = {"a zombie's": dead.pid, "nobody's": 4_194_304, "a stranger's": os.getpid()}[whose]
    lock = server.data / "postmaster.pid"
    lock.write_text(f"{number}\n{server.data}\n")
    server.clear_what_is_left()
    assert not lock.exists()
    dead.wait()


def test_data_of_a_version_that_is_not_here_is_named(server):
    (server.home / "postgresql-9").mkdir()
    with pytest.raises(Exception, match=r"made by PostgreSQL 9, .*--fresh"):
        choose(server.home, None)


def test_the_programs_that_made_the_data_are_preferred_to_the_newest(server):
    oldest = postgres_programs()[-1]
    (server.home / f"postgresql-{oldest.major}").mkdir()
    assert choose(server.home, None) == Postgres(oldest, server.home, None)


def test_secrets_are_long_different_and_their_owners_alone(folder):
    kept = folder.secrets()
    assert len(set(kept.values())) == 4
    assert min(map(len, kept.values())) >= 50
    assert (folder.root / "secrets.json").stat().st_mode & 0o777 == 0o600
    assert folder.secrets() == kept


def test_a_folder_of_somebody_elses_is_never_taken(tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(FolderRefusedError, match="not empty"):
        DataFolder(tmp_path).hold()


def test_clearing_takes_what_is_ours_and_nothing_else(folder):
    with folder.hold():
        folder.secrets()
        folder.services_home(unprivileged_user())
        folder.state.mkdir()
        (folder.root / "notes.txt").write_text("mine")
        folder.clear()
        assert {entry.name for entry in folder.root.iterdir()} == {"lock", "this-is-slake-data", "notes.txt"}


@pytest.mark.skipif(os.geteuid() != 0, reason="only root starts the database as somebody else")
def test_a_checkout_its_user_can_not_reach_keeps_the_database_elsewhere(tmp_path):
    tmp_path.chmod(0o700)
    hidden = DataFolder(tmp_path / "checkout")
    with hidden.hold():
        home = hidden.services_home(unprivileged_user())
        try:
            assert not home.is_relative_to(tmp_path)
            assert hidden.services_home(unprivileged_user()) == home
        finally:
            hidden.clear()
        assert not home.exists()
