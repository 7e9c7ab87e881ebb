"""`./run manage`: any manage.py command on the demo's data, whether the demo runs just now or not."""

import os
import sys

from config.private.environment import as_owner, base_environment, demo_environment
from config.private.folder import CHECKOUT, DataFolder, FolderRefusedError, demo_folder
from config.private.machine import MachineLacksError, unprivileged_user
from config.private.services import start_services
from config.private.supervisor import ProcessEndedError, StopAsked, Supervisor

STOPPED_BY_SIGNAL = 130
# These change tables, which the application's own role may not.
_OWNERS_COMMANDS = frozenset({"migrate", "apply_privileges"})


def main(arguments: list[str]) -> int:
    folder = demo_folder()
    if not (folder.root / "secrets.json").exists():
        print("There is no demo data yet: ./run demo makes it.", file=sys.stderr)
        return 1
    command = [sys.executable, str(CHECKOUT / "manage.py"), *arguments]
    try:
        lock = folder.hold()
    except FolderRefusedError as refused:
        running = folder.what_runs()
        if running is None:
            print(f"{refused} It is not ready yet, or is just stopping: try again shortly.", file=sys.stderr)
            return 1
        environment = running.owner_environment if _is_owners(arguments) else running.environment
        os.execve(sys.executable, command, base_environment() | dict(environment))
    with lock:
        try:
            return _with_services(folder, command, as_the_owner=_is_owners(arguments))
        except StopAsked:
            return STOPPED_BY_SIGNAL
        except (MachineLacksError, ProcessEndedError) as trouble:
            print(trouble, file=sys.stderr)
            return 1


def _with_services(folder: DataFolder, command: list[str], *, as_the_owner: bool) -> int:
    with Supervisor() as supervisor:
        secrets = folder.secrets()
        addresses = start_services(
            supervisor,
            home=folder.services_home(unprivileged_user()),
            secrets=secrets,
            logs=folder.logs,
            ports_file=folder.state / "ports.json",
        )
        environment = demo_environment(folder, addresses, secrets, None)
        return supervisor.run_in_front(
            command, as_owner(environment, addresses) if as_the_owner else environment
        )


def _is_owners(arguments: list[str]) -> bool:
    return bool(arguments) and arguments[0] in _OWNERS_COMMANDS


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
