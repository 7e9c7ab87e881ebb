"""The pictures a paper shows, each numbered once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from fleet.models.photos import Photo
from hire.paper_source import Source
from inspections.certificates import parts

PHOTO_MOST = 24


class Photos:
    """Numbers the pictures a paper shows, each once, up to what a paper holds."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.rows: dict[str, parts.Photo] = {}

    def add(self, photos: Iterable[Photo], *, item: str, place: str, taken_at: datetime) -> tuple[int, ...]:
        """The numbers of these pictures; a picture keeps the number and words it came with first. One too many has none."""
        numbers = []
        for photo in photos:
            known = self.rows.get(photo.original_sha256)
            if known is None:
                if len(self.rows) >= PHOTO_MOST:
                    continue
                known = parts.Photo(
                    number=len(self.rows) + 1,
                    sha256=photo.original_sha256,
                    print_sha256=photo.print_name.rsplit("/", 1)[-1].removesuffix(".jpg"),
                    item=item,
                    place=place,
                    taken_at=self.source.moment(taken_at),
                    width_px=photo.width_px,
                    height_px=photo.height_px,
                )
                self.rows[photo.original_sha256] = known
            numbers.append(known.number)
        return tuple(numbers)

    @property
    def shown(self) -> tuple[parts.Photo, ...]:
        """Every picture numbered so far, in the order of its number."""
        return tuple(self.rows.values())
