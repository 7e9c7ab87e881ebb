"""`./run` itself: its help names exactly what it does, and it refuses the rest in a sentence."""

import os
import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent.parent
RUN = CHECKOUT / "run"


def run(*arguments, **environment):
    return subprocess.run(
        [RUN, *arguments],
        capture_output=True,
        text=True,
        check=False,
        env=dict(os.environ) | environment,
        cwd="/",
    )


def named_in_help():
    return set(re.findall(r"^  ([a-z]+)\b(?= (?:\[|COMMAND| ))", run().stdout, re.MULTILINE))


def handled():
    """The words of the last `case` of the script, aliases of help left out."""
    cases = RUN.read_text().rpartition("case $what in")[2]
    words = re.findall(r"^    ([a-z][a-z |-]*)\)$", cases, re.MULTILINE)
    return {word for group in words for word in group.split(" | ")} - {"help", "-h", "--help"}


@pytest.mark.parametrize(
    "asked", [(), ("help",), ("--help",), ("-h",)], ids=lambda asked: " ".join(asked) or "nothing"
)
def test_help_is_printed_when_asked_for(asked):
    answer = run(*asked)
    assert answer.returncode == 0
    assert "./run WHAT" in answer.stdout


def test_help_names_every_command_and_no_other():
    assert named_in_help() == handled()
    assert {"demo", "test", "check"} <= handled()


def test_an_unknown_word_is_refused_with_the_help():
    answer = run("dmeo")
    assert answer.returncode == 2
    assert "./run knows no 'dmeo'." in answer.stderr
    assert "./run WHAT" in answer.stderr


def test_without_a_new_enough_python_it_says_what_to_do(tmp_path):
    for name in ("python3", "python3.11", "python3.12", "python3.13", "python3.14", "python"):
        old = tmp_path / name
        old.write_text("#!/bin/sh\nexit 1\n")
        old.chmod(0o755)
    for name in ("dirname", "sh", "cat"):
        (tmp_path / name).symlink_to(f"/usr/bin/{name}")
    answer = run("demo", PATH=str(tmp_path))
    assert answer.returncode == 1
    assert "needs Python 3.11 or newer" in answer.stderr


def test_it_is_plain_posix_shell():
    script = RUN.read_text()
    assert script.startswith("#!/bin/sh\n")
    assert subprocess.run(["/bin/sh", "-n", RUN], check=False).returncode == 0
    assert not re.search(r"\[\[|\bfunction \w|<<<|\blocal ", script)
