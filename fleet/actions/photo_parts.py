"""A photo that comes in parts: each is put down in the database as it arrives, so that any web process can go on with it
after a break. With the last one the whole is joined, checked and taken in like a photo that came in one piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Max, Sum
from django.db.models.functions import Length

from fleet.actions.photos import keep_photo
from fleet.models.photos import Photo, PhotoPart
from fleet.photos.intake import DEFAULT_LIMITS
from fleet.photos.refusals import (
    LongerThanAnnounced,
    PartTooLarge,
    PhotoRefused,
    TooManyBytes,
    TooManyUnfinished,
    WrongOffset,
)
from people.models import Staff

PART_MOST_BYTES = 256 * 1024
MOST_UNFINISHED = 64
FORGOTTEN_AFTER = timedelta(days=7)


@dataclass(frozen=True)
class Part:
    """Bytes of the photo named by its SHA-256, from byte `start` on; the whole photo is `total` bytes."""

    sha256: str
    start: int
    total: int
    content: bytes

    @property
    def end(self) -> int:
        return self.start + len(self.content)


@dataclass(frozen=True)
class Received:
    """How far a photo has come: the bytes put down so far, and the photo once it is kept (nothing is put down then)."""

    offset: int
    photo: Photo | None = None


def received_of(*, sha256: str, by: Staff) -> Received:
    """How far this person's photo has come."""
    # Parts go after the photo is kept, so in this order a photo just finished is never told as not begun.
    end = _end_of(sha256, by)
    kept = Photo.objects.filter(original_sha256=sha256).first()
    return Received(0, kept) if kept else Received(end)


def take_part(*, part: Part, by: Staff, at: datetime) -> Received:
    """Put one part down; with the last one, take the photo in. A part that is here already changes nothing.

    Every `PhotoRefused` of taking a photo in, after which its parts are dropped; and TooManyBytes, PartTooLarge,
    LongerThanAnnounced, WrongOffset, TooManyUnfinished, after which they stand.
    """
    if part.total > DEFAULT_LIMITS.most_bytes:
        raise TooManyBytes(size_bytes=part.total, most_bytes=DEFAULT_LIMITS.most_bytes)
    if len(part.content) > PART_MOST_BYTES:
        raise PartTooLarge(size_bytes=len(part.content), most_bytes=PART_MOST_BYTES)
    if part.end > part.total:
        raise LongerThanAnnounced(end_bytes=part.end, total_bytes=part.total)
    received, whole = _put_down(part, by=by, at=at)
    if whole is None:
        return received
    # Decoding takes its time, so it holds no lock; two who send the last part at once get the same photo.
    try:
        kept = keep_photo(raw=whole, expected_sha256=part.sha256, by=by, at=at)
    except PhotoRefused:
        _drop(part.sha256, by)
        raise
    _drop(part.sha256, by)
    return Received(0, kept)


def _lock(person_id: UUID) -> None:
    """One upload of a person at a time puts bytes down or takes them away."""
    Staff.objects.select_for_update(no_key=True).get(pk=person_id)


def _end_of(sha256: str, by: Staff) -> int:
    found = PhotoPart.objects.filter(sha256=sha256, person=by).aggregate(end=Sum(Length("content")))
    return found["end"] or 0


@transaction.atomic
def _put_down(part: Part, *, by: Staff, at: datetime) -> tuple[Received, bytes | None]:
    """How far the photo has come with this part, and all its bytes when this was the last."""
    _lock(by.pk)
    mine = PhotoPart.objects.filter(sha256=part.sha256, person=by)
    kept = Photo.objects.filter(original_sha256=part.sha256).first()
    if kept is not None:
        mine.delete()
        return Received(0, kept), None
    end = _end_of(part.sha256, by)
    if part.start != end:
        if mine.filter(start=part.start, content=part.content).exists():
            return Received(end), None
        raise WrongOffset(offset=end)
    if part.end == part.total:
        before = mine.order_by("start").values_list("content", flat=True)
        return Received(end), b"".join([*map(bytes, before), part.content])
    if not part.content:
        return Received(end), None
    if end == 0 and PhotoPart.objects.filter(person=by, start=0).count() >= MOST_UNFINISHED:
        raise TooManyUnfinished(most=MOST_UNFINISHED)
    PhotoPart(sha256=part.sha256, person=by, start=part.start, content=part.content, received_at=at).save(
        force_insert=True
    )
    return Received(part.end), None


@transaction.atomic
def _drop(sha256: str, by: Staff) -> None:
    _lock(by.pk)
    PhotoPart.objects.filter(sha256=sha256, person=by).delete()


def forget_old_parts(*, at: datetime) -> int:
    """Drop each photo of which nothing has come for a week, whole; how many that were. Safe to run twice."""
    last = PhotoPart.objects.values("person", "sha256").annotate(last=Max("received_at"))
    old = last.filter(last__lte=at - FORGOTTEN_AFTER).order_by("person", "sha256")
    return sum(
        _forget(person_id, sha256, at=at) for person_id, sha256 in list(old.values_list("person", "sha256"))
    )


@transaction.atomic
def _forget(person_id: UUID, sha256: str, *, at: datetime) -> bool:
    """Drop one photo's parts unless one came in meanwhile."""
    _lock(person_id)
    parts = PhotoPart.objects.filter(person=person_id, sha256=sha256)
    if parts.filter(received_at__gt=at - FORGOTTEN_AFTER).exists():
        return False
    return bool(parts.delete()[0])
