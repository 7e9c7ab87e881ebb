"""What a data folder remembers of earlier starts, so that a second one need not do it again."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from config.private.folder import CHECKOUT, DataFolder


@dataclass(frozen=True)
class DemoYard:
    """Whether the demo yard has been laid out in this folder."""

    folder: DataFolder

    @property
    def _begun(self) -> Path:
        return self.folder.state / "demo-begun"

    @property
    def _complete(self) -> Path:
        return self.folder.state / "demo-complete"

    @property
    def is_complete(self) -> bool:
        return self._complete.exists()

    @property
    def was_cut_short(self) -> bool:
        """Laying out began and never ended: no page has been served from it, so nothing of anybody's is in it."""
        return self._begun.exists() and not self.is_complete

    def note_beginning(self) -> None:
        self._begun.touch()

    def note_completion(self) -> None:
        self._complete.touch()


@dataclass(frozen=True)
class StaticFiles:
    """Whether the static files gathered in this folder are those of the checkout as it is now."""

    folder: DataFolder

    @property
    def _gathered_from(self) -> Path:
        return self.folder.state / "static-gathered-from"

    @property
    def are_current(self) -> bool:
        try:
            return self.folder.static.is_dir() and self._gathered_from.read_text() == self._sources()
        except OSError:
            return False

    def note_gathering(self) -> None:
        self._gathered_from.write_text(self._sources())

    def _sources(self) -> str:
        """A mark of every source: ours by name, size and time of change, other packages' by their pins."""
        mark = hashlib.sha256((CHECKOUT / "requirements.txt").read_bytes())
        for path in sorted((CHECKOUT / "static").rglob("*")):
            facts = path.stat()
            mark.update(f"{path}\0{facts.st_size}\0{facts.st_mtime_ns}\n".encode())
        return mark.hexdigest()
