"""Runs one command with a PostgreSQL and a Redis made for it alone, and forgets both: `./run test` and the like.

What to run is given as arguments to this Python. With `--whole` before them, the demo yard and the
application's own processes run beside it too: `./run journeys`.
"""

import shutil
import sys
import tempfile
from pathlib import Path

from config.private.application import Application
from config.private.environment import test_environment
from config.private.folder import DataFolder
from config.private.machine import MachineLacksError, hold_any_port, unprivileged_user
from config.private.services import start_services
from config.private.supervisor import ProcessEndedError, StopAsked, Supervisor

STOPPED_BY_SIGNAL = 130


def main(arguments: list[str]) -> int:
    whole = arguments[:1] == ["--whole"]
    command = arguments[1:] if whole else arguments
    folder = DataFolder(Path(tempfile.mkdtemp(prefix="slake-throwaway-")))
    folder.root.chmod(0o711)
    try:
        return _run(folder, command, whole=whole)
    except StopAsked:
        return STOPPED_BY_SIGNAL
    except MachineLacksError as lacks:
        print(lacks, file=sys.stderr)
        return 1
    except ProcessEndedError as ended:
        print(f"\n{ended.what} The end of its log:\n\n{ended.child.last_lines(40)}", file=sys.stderr)
        return 1
    finally:
        folder.clear()
        shutil.rmtree(folder.root, ignore_errors=True)


def _run(folder: DataFolder, command: list[str], *, whole: bool) -> int:
    with folder.hold(), Supervisor() as supervisor:
        secrets = folder.secrets()
        addresses = start_services(
            supervisor,
            home=folder.services_home(unprivileged_user()),
            secrets=secrets,
            logs=folder.logs,
            ports_file=folder.state / "ports.json",
            throwaway=True,
        )
        environment = test_environment(folder, addresses, secrets)
        if not whole:
            return supervisor.run_in_front([sys.executable, *command], environment)
        with hold_any_port() as held:
            application = Application(supervisor, folder, addresses, secrets, held.getsockname()[1])
            application.prepare()
            application.start()
            environment["SLAKE_JOURNEY_ADDRESS"] = application.address
            environment["SLAKE_JOURNEY_LOGS"] = str(folder.logs)
            return supervisor.run_in_front([sys.executable, *command], environment)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
