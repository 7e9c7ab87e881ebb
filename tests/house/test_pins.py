"""The pinned packages: complete, hashed, naming no host, and the same versions for running and for testing."""

import re
import tomllib
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent.parent
PINS = re.compile(
    r"^([A-Za-z0-9._-]+)==(\S+)(?: ; ([^\\]+?))? \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)",
    re.MULTILINE,
)
FILES = ("requirements.txt", "requirements-dev.txt")


def pins_of(name):
    """{(package, marker): version} of one file."""
    text = (CHECKOUT / name).read_text()
    return {(found[1], found[3] or ""): found[2] for found in PINS.finditer(text)}


def canonical(requirement):
    name = re.split(r"[^A-Za-z0-9._-]", requirement)[0]
    return re.sub(r"[-_.]+", "-", name).lower()


@pytest.mark.parametrize("name", FILES)
def test_every_line_belongs_to_a_hashed_pin(name):
    text = (CHECKOUT / name).read_text()
    assert PINS.sub("", text).strip() == ""


@pytest.mark.parametrize("name", FILES)
def test_no_file_names_a_host(name):
    assert not re.search(r"://|--index|--find-links|--trusted", (CHECKOUT / name).read_text())


def test_what_is_asked_for_is_pinned():
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())
    runs = {package for package, _ in pins_of("requirements.txt")}
    tests = {package for package, _ in pins_of("requirements-dev.txt")}
    assert {canonical(each) for each in project["project"]["dependencies"]} <= runs
    assert {canonical(each) for each in project["dependency-groups"]["dev"]} <= tests


def test_tests_run_on_the_very_versions_that_run():
    tested = pins_of("requirements-dev.txt")
    assert {key: tested.get(key) for key in pins_of("requirements.txt")} == pins_of("requirements.txt")
