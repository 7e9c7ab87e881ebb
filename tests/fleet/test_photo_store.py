"""The picture store: names made from content, whole files or none, the same bytes once, an altered byte found."""

import hashlib
import os
import stat
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import InMemoryStorage, storages
from pytest_django import Settings

from fleet.photos import store

RAW = b"\xff\xd8\xff a picture"
DIGEST = hashlib.sha256(RAW).hexdigest()
NAME = f"photos/{DIGEST[:2]}/{DIGEST[2:4]}/{DIGEST}.jpg"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: Settings) -> Path:
    """An empty folder as the private storage, with the modes production gives it."""
    options = {"location": tmp_path, "base_url": None, "file_permissions_mode": 0o600}
    backend = "django.core.files.storage.FileSystemStorage"
    settings.STORAGES = settings.STORAGES | {"private": {"BACKEND": backend, "OPTIONS": options}}
    return tmp_path


@pytest.fixture
def in_memory(settings: Settings) -> InMemoryStorage:
    """A storage that is no folder, as an object store is none."""
    settings.STORAGES = settings.STORAGES | {
        "private": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    }
    storage = storages["private"]
    assert isinstance(storage, InMemoryStorage)
    return storage


def files_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_a_picture_is_named_by_its_content_alone(folder: Path) -> None:
    assert store.put(RAW, ".jpg") == NAME == store.name_for(RAW, ".jpg")
    assert files_in(folder) == [NAME]
    assert store.open(NAME).read() == RAW


def test_storing_it_again_changes_nothing(folder: Path) -> None:
    store.put(RAW, ".jpg")
    before = (folder / NAME).stat()
    assert store.put(RAW, ".jpg") == NAME
    assert (folder / NAME).stat().st_ino == before.st_ino
    assert (folder / NAME).stat().st_mtime_ns == before.st_mtime_ns
    assert files_in(folder) == [NAME]


def test_two_pictures_are_two_files(folder: Path) -> None:
    names = {store.put(RAW, ".jpg"), store.put(RAW + b"!", ".jpg"), store.put(RAW, ".png")}
    assert sorted(names) == files_in(folder)
    assert len(names) == 3


def test_only_the_owner_may_read_the_file(folder: Path) -> None:
    store.put(RAW, ".jpg")
    assert stat.S_IMODE((folder / NAME).stat().st_mode) == 0o600


def test_another_mode_is_taken_from_the_storage(folder: Path, settings: Settings) -> None:
    settings.STORAGES["private"]["OPTIONS"]["file_permissions_mode"] = 0o640
    settings.STORAGES = dict(settings.STORAGES)
    store.put(RAW, ".jpg")
    assert stat.S_IMODE((folder / NAME).stat().st_mode) == 0o640


def test_a_disk_that_fills_up_leaves_nothing_behind(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        store.put(RAW, ".jpg")
    assert files_in(folder) == []


def test_half_a_file_left_by_a_broken_disk_is_made_whole(folder: Path) -> None:
    store.put(RAW, ".jpg")
    (folder / NAME).write_bytes(RAW[:5])
    assert store.put(RAW, ".jpg") == NAME
    assert store.open(NAME).read() == RAW


def test_many_at_once_store_it_once(folder: Path) -> None:
    large = RAW * 20_000
    with ThreadPoolExecutor(8) as pool:
        names = set(pool.map(lambda _: store.put(large, ".jpg"), range(40)))
    assert names == {store.name_for(large, ".jpg")} == set(files_in(folder))
    assert store.open(names.pop()).read() == large


def test_a_name_is_only_there_once_the_whole_file_is(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[list[str]] = []
    real_fsync = os.fsync

    def watching(handle: int) -> None:
        seen.append(files_in(folder))
        real_fsync(handle)

    monkeypatch.setattr(os, "fsync", watching)
    store.put(RAW, ".jpg")
    while_writing, afterwards = seen
    assert NAME not in while_writing
    assert afterwards == [NAME]


def test_any_altered_byte_is_found(folder: Path) -> None:
    store.put(RAW, ".jpg")
    for at in range(len(RAW)):
        (folder / NAME).write_bytes(RAW[:at] + bytes((RAW[at] ^ 1,)) + RAW[at + 1 :])
        with pytest.raises(store.StoredFileAltered, match="no longer fit its name") as refusal:
            store.open(NAME)
        assert refusal.value.name == NAME
        assert refusal.value.found_sha256 != DIGEST


def test_a_missing_file_is_named() -> None:
    with pytest.raises(store.StoredFileMissing, match=NAME) as refusal:
        store.open(NAME)
    assert refusal.value.name == NAME


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("", id="empty"),
        pytest.param("photos/../../etc/passwd", id="up and out"),
        pytest.param("/etc/passwd", id="absolute"),
        pytest.param(f"photos/00/00/{DIGEST}.jpg", id="folders that don't fit the digest"),
        pytest.param(NAME.upper(), id="capitals"),
        pytest.param(NAME + "\n", id="line end"),
        pytest.param(NAME.replace(".jpg", ""), id="no suffix"),
        pytest.param(NAME.replace(".jpg", ".jpg/../x"), id="more behind it"),
        pytest.param("photos/left rear.jpg", id="a name somebody typed"),
    ],
)
def test_a_name_it_can_not_have_given_opens_nothing(name: str) -> None:
    store.put(RAW, ".jpg")
    with pytest.raises(ValueError, match="is not the name of a stored file"):
        store.open(name)


@pytest.mark.parametrize("suffix", ["", "jpg", ".JPG", ".", "./x", ".jpg\n", ".toolong", "..jpg"])
def test_an_odd_suffix_is_refused(suffix: str, folder: Path) -> None:
    with pytest.raises(ValueError, match="is not a file suffix"):
        store.put(RAW, suffix)
    assert files_in(folder) == []


def test_a_storage_that_is_no_folder_serves_as_well(in_memory: InMemoryStorage, folder: Path) -> None:
    assert store.put(RAW, ".jpg") == NAME == store.put(RAW, ".jpg")
    assert store.open(NAME).read() == RAW
    assert in_memory.listdir(NAME.rpartition("/")[0]) == ([], [f"{DIGEST}.jpg"])
    assert files_in(folder) == []


def test_two_at_once_on_such_a_storage_leave_one_file(
    in_memory: InMemoryStorage, monkeypatch: pytest.MonkeyPatch
) -> None:
    in_memory.save(NAME, ContentFile(RAW))
    monkeypatch.setattr(InMemoryStorage, "exists", _not_yet_there_once(InMemoryStorage.exists))
    assert store.put(RAW, ".jpg") == NAME
    assert in_memory.listdir(NAME.rpartition("/")[0]) == ([], [f"{DIGEST}.jpg"])


def _not_yet_there_once(
    really: Callable[[InMemoryStorage, str], bool],
) -> Callable[[InMemoryStorage, str], bool]:
    looks = iter(("first",))
    return lambda storage, name: next(looks, None) is None and really(storage, name)
