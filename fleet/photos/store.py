"""Where pictures are kept: under the SHA-256 of their own bytes, in the storage settings call "private".

A name is made from the content and from nothing anybody typed, so the same picture is stored once, a stored one
is never overwritten with another, and a file that was altered no longer fits its name. Nothing here is served
from a public folder: who may see a picture is decided by the view that opens it.
"""

import hashlib
import os
import re
import tempfile
from io import BytesIO
from pathlib import Path

from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, Storage, storages

STORAGE_ALIAS = "private"
_SUFFIX = re.compile(r"\.[a-z0-9]{1,5}")
_NAME = re.compile(r"photos/([0-9a-f]{2})/([0-9a-f]{2})/(\1\2[0-9a-f]{60})\.[a-z0-9]{1,5}")


class StoredFileMissing(Exception):
    """The store has nothing under `name`, though something once was told it had."""

    def __init__(self, name: str) -> None:
        super().__init__(f"The stored file {name} is missing.")
        self.name = name


class StoredFileAltered(Exception):
    """What lies under `name` is not what was stored there: its digest is `found_sha256`."""

    def __init__(self, name: str, found_sha256: str) -> None:
        super().__init__(f"The stored file {name} was altered: its bytes no longer fit its name.")
        self.name = name
        self.found_sha256 = found_sha256


def name_for(raw: bytes, suffix: str) -> str:
    """The name those bytes are kept under: photos/ab/cd/<sha256>.jpg for suffix ".jpg".

    ValueError for a suffix that is not a dot and one to five small letters or figures.
    """
    if not _SUFFIX.fullmatch(suffix):
        raise ValueError(f"{suffix!r} is not a file suffix like '.jpg'.")
    digest = hashlib.sha256(raw).hexdigest()
    return f"photos/{digest[:2]}/{digest[2:4]}/{digest}{suffix}"


def put(raw: bytes, suffix: str) -> str:
    """Keep those bytes and give back their name. Storing the same bytes again changes nothing.

    Either the whole file is there afterwards or none of it: a name never points at half a picture, and a half left by a
    broken disk is replaced. Not part of a database transaction; bytes stored for a row that is then rolled back
    stay, unnamed, and do no harm.
    """
    name = name_for(raw, suffix)
    storage = _storage()
    if storage.exists(name) and storage.size(name) == len(raw):
        return name
    if isinstance(storage, FileSystemStorage):
        _write_whole(storage, name, raw)
        return name
    kept_as = storage.save(name, ContentFile(raw))
    if kept_as != name:
        # Somebody stored the same bytes in between, and the storage picked a second name for ours.
        storage.delete(kept_as)
    return name


def open(name: str) -> BytesIO:  # noqa: A001 - read as store.open(name)
    """The bytes kept under a name that `put` gave, checked against that name.

    ValueError for a name `put` can't have given, StoredFileMissing, StoredFileAltered.
    """
    match = _NAME.fullmatch(name)
    if match is None:
        raise ValueError(f"{name!r} is not the name of a stored file.")
    try:
        with _storage().open(name, "rb") as kept:
            raw = kept.read()
    except FileNotFoundError as error:
        raise StoredFileMissing(name) from error
    found_sha256 = hashlib.sha256(raw).hexdigest()
    if found_sha256 != match[3]:
        raise StoredFileAltered(name, found_sha256)
    return BytesIO(raw)


def _storage() -> Storage:
    return storages[STORAGE_ALIAS]


def _write_whole(storage: FileSystemStorage, name: str, raw: bytes) -> None:
    """Write beside the place and rename into it: Django's own save can leave half a file under the final name."""
    place = Path(storage.path(name))
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with tempfile.NamedTemporaryFile(dir=place.parent, prefix=".", suffix=".part", delete=False) as part:
        try:
            part.write(raw)
            part.flush()
            os.fsync(part.fileno())
            if storage.file_permissions_mode is not None:
                os.fchmod(part.fileno(), storage.file_permissions_mode)
            Path(part.name).replace(place)
        except BaseException:
            Path(part.name).unlink(missing_ok=True)
            raise
    _sync_folder(place.parent)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
