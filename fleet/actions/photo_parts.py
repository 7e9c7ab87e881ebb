"""A photo that comes in parts: each is put down in the database as it arrives, so that any web process can go on with it
after a break. With the last one the whole is joined, checked and taken in like a photo that came in one piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Max, Sum
from django.db.models.functions import Length

from fleet.actions.photos import Outsider, keep_photo
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
# One upload of a sender at a time puts bytes down or takes them away.
LOCK_SPACE = 7_246


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


def received_of(*, sha256: str, by: Staff | Outsider) -> Received:
    """How far this sender's photo has come."""
    # Parts go after the photo is kept, so in this order a photo just finished is never told as not begun.
    end = _end_of(sha256, by)
    kept = Photo.objects.filter(original_sha256=sha256).first()
    return Received(0, kept) if kept else Received(end)


def take_part(*, part: Part, by: Staff | Outsider, at: datetime) -> Received:
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


def _lock(sender_id: UUID) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOCK_SPACE, sender_id.int % 2**31])


def _end_of(sha256: str, by: Staff | Outsider) -> int:
    found = PhotoPart.objects.filter(sha256=sha256, sender=by.id).aggregate(end=Sum(Length("content")))
    return found["end"] or 0


@transaction.atomic
def _put_down(part: Part, *, by: Staff | Outsider, at: datetime) -> tuple[Received, bytes | None]:
    """How far the photo has come with this part, and all its bytes when this was the last."""
    _lock(by.id)
    mine = PhotoPart.objects.filter(sha256=part.sha256, sender=by.id)
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
    if end == 0 and PhotoPart.objects.filter(sender=by.id, start=0).count() >= MOST_UNFINISHED:
        raise TooManyUnfinished(most=MOST_UNFINISHED)
    PhotoPart(sha256=part.sha256, sender=by.id, start=part.start, content=part.content, received_at=at).save(
        force_insert=True
    )
    return Received(part.end), None


@transaction.atomic
def _drop(sha256: str, by: Staff | Outsider) -> None:
    _lock(by.id)
    PhotoPart.objects.filter(sha256=sha256, sender=by.id).delete()


def forget_old_parts(*, at: datetime) -> int:
    """Drop each photo of which nothing has come for a week, whole; how many that were. Safe to run twice."""
    last = PhotoPart.objects.values("sender", "sha256").annotate(last=Max("received_at"))
    old = last.filter(last__lte=at - FORGOTTEN_AFTER).order_by("sender", "sha256")
    return sum(
        _forget(sender_id, sha256, at=at) for sender_id, sha256 in list(old.values_list("sender", "sha256"))
    )


@transaction.atomic
def _forget(sender_id: UUID, sha256: str, *, at: datetime) -> bool:
    """Drop one photo's parts unless one came in meanwhile."""
    _lock(sender_id)
    parts = PhotoPart.objects.filter(sender=sender_id, sha256=sha256)
    if parts.filter(received_at__gt=at - FORGOTTEN_AFTER).exists():
        return False
    return bool(parts.delete()[0])
