"""The library's files, an issue frozen and read back, and a yard's own changes."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from inspections.check import Check, CheckRefused
from inspections.library import FILES, FOLDER, checks_from, content_of, library, load, merge
from tests.inspections.check_bodies import BODY, one


def test_an_issue_reads_back_as_it_was_frozen() -> None:
    text = json.dumps(content_of(library()), sort_keys=True, ensure_ascii=False)
    assert checks_from(json.loads(text)) == library()


def test_an_issue_holds_no_fraction_as_a_number() -> None:
    def leaves(value: object) -> list[object]:
        if isinstance(value, dict):
            return [leaf for one in value.values() for leaf in leaves(one)]
        if isinstance(value, list):
            return [leaf for one in value for leaf in leaves(one)]
        return [value]

    found = leaves(content_of(library()))
    assert {type(leaf) for leaf in found} == {str, int, bool, type(None)}
    assert len(found) > 5000


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ({"version": 2, "checks": []}, "This sheet is in form 2; form 1 can be read."),
        ({"checks": []}, "This sheet is in form None; form 1 can be read."),
        ({"version": 1}, "This sheet has no list of checks."),
        ({"version": 1, "checks": ["seat-belt"]}, "This sheet has no list of checks."),
        (
            {"version": 1, "checks": [BODY, BODY]},
            "The key “bucket” is used twice. Choose another for one of them.",
        ),
    ],
)
def test_content_that_is_no_issue_is_refused(content: dict[str, Any], sentence: str) -> None:
    with pytest.raises(CheckRefused) as refused:
        checks_from(content)
    assert str(refused.value) == sentence


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "checks"
    shutil.copytree(FOLDER, copy)
    return copy


def append(path: Path, text: str) -> None:
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def test_the_files_as_they_are_load(folder: Path) -> None:
    assert load(folder) == library()
    assert {path.name for path in folder.iterdir()} == set(FILES)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("roof.toml", "", "roof.toml: no station is written in a file of this name; use anywhere.toml"),
        ("rear.toml", "[[check]\n", "rear.toml: not readable as TOML:"),
        ("rear.toml", "\n[other]\n", "rear.toml: a check file holds [[check]] tables and nothing else."),
        ("rear.toml", '\n[[check]]\nkey = "extra"\n', "rear.toml: The check “extra” has"),
        (
            "rear.toml",
            '\n[[check]]\nkey = "extra"\nstation = "cab"\n',
            "has no place here for “cab”: use one of rear.",
        ),
        ("sides.toml", '\n[[check]]\nkey = "extra"\n', "sides.toml: The check “extra” has no “station”"),
    ],
)
def test_a_file_that_cannot_stand_is_refused(folder: Path, name: str, text: str, sentence: str) -> None:
    if not (folder / name).exists():
        (folder / name).write_text("", encoding="utf-8")
    append(folder / name, text)
    with pytest.raises(CheckRefused) as refused:
        load(folder)
    assert sentence in str(refused.value)


def test_a_missing_file_is_refused(folder: Path) -> None:
    (folder / "cab.toml").unlink()
    with pytest.raises(CheckRefused, match=r"^cab\.toml: the file is missing\.$"):
        load(folder)


def test_a_key_used_in_two_files_is_refused(folder: Path) -> None:
    first = (folder / "front.toml").read_text(encoding="utf-8").split("[[check]]")[1]
    append(folder / "rear.toml", f"\n[[check]]{first}")
    with pytest.raises(CheckRefused, match="The key “cab-latch” is used twice"):
        load(folder)


def keys(checks: tuple[Check, ...]) -> list[str]:
    return [check.key for check in checks]


def test_an_added_check_comes_after_the_librarys() -> None:
    merged = merge(library(), [one(BODY)])
    assert keys(merged) == [*keys(library()), "bucket"]


def test_a_reworded_check_keeps_its_place() -> None:
    belt = next(check for check in library() if check.key == "seat-belt")
    reworded = one(belt.as_content() | {"title": "Driver’s belt"})
    merged = merge(library(), [reworded])
    assert keys(merged) == keys(library())
    assert next(check for check in merged if check.key == "seat-belt").title == "Driver’s belt"


def test_a_retired_check_is_gone_and_a_family_at_every_station() -> None:
    merged = merge(library(), retired=["seat-belt", "rims", "tread-left-front-wheel"])
    gone = set(keys(library())) - set(keys(merged))
    assert gone == {
        "seat-belt",
        "tread-left-front-wheel",
        "rims-right-front-wheel",
        "rims-right-rear-wheels",
        "rims-left-rear-wheels",
        "rims-left-front-wheel",
    }


def test_a_retired_check_may_be_written_anew() -> None:
    anew = one(BODY | {"key": "seat-belt", "station": "cab", "title": "Belt"})
    merged = merge(library(), [anew], ["seat-belt"])
    assert keys(merged) == keys(library())
    assert anew in merged


def test_changes_that_cannot_be_are_refused() -> None:
    with pytest.raises(CheckRefused, match="There is no check “seat-blet” to retire"):
        merge(library(), retired=["seat-blet"])
    with pytest.raises(CheckRefused, match="The key “bucket” is used twice"):
        merge(library(), [one(BODY), one(BODY)])
