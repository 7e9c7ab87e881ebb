"""`./run demo`: the whole application with an invented yard, on this machine alone, until Ctrl-C."""

import argparse
import sys
from socket import socket

from config.private.application import Application, spoken
from config.private.folder import DataFolder, FolderRefusedError, demo_folder
from config.private.machine import FOREIGN_PORTS, MachineLacksError, hold_port, unprivileged_user
from config.private.remembered import DemoYard
from config.private.services import start_services
from config.private.supervisor import ProcessEndedError, StopAsked, Supervisor

FIRST_PORT = 8400
_PORTS_TRIED = 100


def main(arguments: list[str]) -> int:
    options = _parser().parse_args(arguments)
    folder = demo_folder()
    try:
        lock = folder.hold()
    except FolderRefusedError as refused:
        return _complain(f"{refused}{_where_it_runs(folder)}")
    with lock:
        try:
            return _run(folder, port=options.port, fresh=options.fresh)
        except MachineLacksError as lacks:
            return _complain(str(lacks))
        except ProcessEndedError as ended:
            return _report(ended)
        finally:
            folder.running.unlink(missing_ok=True)


def _run(folder: DataFolder, *, port: int | None, fresh: bool) -> int:
    held = _hold_port(port)
    if fresh or DemoYard(folder).was_cut_short:
        folder.clear()
    folder.keep_former_logs()
    print(f"Slake's demo, with its data in {folder.root}", flush=True)
    try:
        with held, Supervisor() as supervisor:
            secrets = folder.secrets()
            with spoken("Starting a PostgreSQL and a Redis of its own"):
                addresses = start_services(
                    supervisor,
                    home=folder.services_home(unprivileged_user()),
                    secrets=secrets,
                    logs=folder.logs,
                    ports_file=folder.state / "ports.json",
                )
            application = Application(supervisor, folder, addresses, secrets, held.getsockname()[1])
            application.prepare()
            _welcome(application, application.start())
            supervisor.watch()
    except StopAsked:
        print("\nStopped. The demo's data stays where it is.", flush=True)
    return 0


def _hold_port(wanted: int | None) -> socket:
    if wanted in FOREIGN_PORTS:
        raise MachineLacksError(
            f"Port {wanted} is for a database server of this machine's own; choose another."
        )
    for port in [wanted] if wanted else range(FIRST_PORT, FIRST_PORT + _PORTS_TRIED):
        held = hold_port(port)
        if held:
            return held
    if wanted:
        raise MachineLacksError(
            f"Something else listens on port {wanted}; choose another or leave --port out."
        )
    raise MachineLacksError(f"No port from {FIRST_PORT} on is free; name one with --port.")


def _welcome(application: Application, sign_ins: str) -> None:
    print(f"\nSlake is running: {application.address}\n")
    print(sign_ins)
    print(f"\nMails the alerts send: {application.folder.mail}")
    print(f"Logs: {application.folder.logs}")
    print("Ctrl-C stops everything; the data stays.", flush=True)


def _where_it_runs(folder: DataFolder) -> str:
    running = folder.what_runs()
    return f" It runs at {running.address} (process {running.process})." if running else ""


def _report(ended: ProcessEndedError) -> int:
    said = ended.child.last_lines()
    tail = f"\nThe end of its log:\n\n{said}\n" if said else ""
    return _complain(
        f"\n{ended.what} Everything else was stopped too; the data is as it was.{tail}\n"
        f"The whole log: {ended.child.command.log}"
    )


def _complain(sentence: str) -> int:
    print(sentence, file=sys.stderr, flush=True)
    return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="./run demo", description="The whole app with an invented yard, until Ctrl-C."
    )
    parser.add_argument("--fresh", action="store_true", help="forget the demo's data and lay out a new yard")
    parser.add_argument(
        "--port", type=int, help=f"the web server's port on 127.0.0.1 (else the first free from {FIRST_PORT})"
    )
    return parser


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
