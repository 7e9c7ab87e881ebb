"""A ZIP made while it is sent, one file at a time: a thousand photos never lie in memory together. No Django."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime

# What is packed already gains nothing by being packed again.
PACKED = (".pdf", ".jpg", ".png")


@dataclass(frozen=True)
class PackFile:
    """path: in the ZIP. words: what it is. read: its bytes, fetched when its turn comes; None where they cannot be had."""

    path: str
    words: str
    read: Callable[[], bytes | None]


@dataclass(frozen=True)
class Packed:
    """A file as it went in. sha256 None: it could not be had, and is not in the ZIP."""

    path: str
    words: str
    size_bytes: int
    sha256: str | None


@dataclass
class _Sink:
    """Takes what the ZIP writes and gives it on; it cannot be wound back, so sizes follow each file."""

    parts: list[bytes] = field(default_factory=list)

    def write(self, part: bytes, /) -> int:
        self.parts.append(bytes(part))
        return len(part)

    def flush(self) -> None:
        """Nothing is held back."""

    def close(self) -> None:
        """Nothing is open."""

    def take(self) -> bytes:
        found = b"".join(self.parts)
        self.parts.clear()
        return found


def zip_stream(
    files: Iterable[PackFile], *, index: Callable[[list[Packed]], Iterable[tuple[str, bytes]]], at: datetime
) -> Iterator[bytes]:
    """The bytes of a ZIP. index: from what went in, the last files (path, bytes), which list the others. at: the time each file
    carries, local. The same files at the same time give the same bytes. ValueError for two files of one path."""
    sink, packed = _Sink(), []
    with zipfile.ZipFile(sink, "w") as into:
        seen: set[str] = set()
        for file in files:
            if file.path in seen:
                raise ValueError(f"Two files of the pack are called {file.path}.")
            seen.add(file.path)
            raw = file.read()
            if raw is None:
                packed.append(Packed(file.path, file.words, 0, None))
                continue
            packed.append(Packed(file.path, file.words, len(raw), hashlib.sha256(raw).hexdigest()))
            _put(into, file.path, raw, at)
            yield sink.take()
        for path, raw in index(packed):
            _put(into, path, raw, at)
            yield sink.take()
    yield sink.take()


def _put(into: zipfile.ZipFile, path: str, raw: bytes, at: datetime) -> None:
    entry = zipfile.ZipInfo(path, date_time=at.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_STORED if path.endswith(PACKED) else zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    into.writestr(entry, raw)
