"""Runs several manage.py commands in one process, for loading the framework costs more than most of them.

`python -m config.private.steps migrate --no-input + apply_privileges`: each command's words, parted by a plus.
The first that fails ends the rest. System checks run once, before the first. One word more than manage.py knows:
`send_task NAME` leaves a task for the worker.
"""

import sys

MARK = "-- "


def main(arguments: list[str]) -> int:
    # Here, so that the supervisor can read the mark above without loading a framework.
    import django  # noqa: PLC0415
    from django.core.management import CommandError, call_command  # noqa: PLC0415

    from config.celery import app  # noqa: PLC0415

    django.setup()
    call_command("check")
    for name, *words in commands_in(arguments):
        print(f"{MARK}{name}", flush=True)
        try:
            app.send_task(*words) if name == "send_task" else call_command(name, *words)
        except CommandError as refusal:
            print(f"{name}: {refusal}", file=sys.stderr, flush=True)
            return 1
    return 0


def commands_in(arguments: list[str]) -> list[list[str]]:
    """Each command's words, in order."""
    commands: list[list[str]] = [[]]
    for word in arguments:
        if word == "+":
            commands.append([])
        else:
            commands[-1].append(word)
    return [command for command in commands if command]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
