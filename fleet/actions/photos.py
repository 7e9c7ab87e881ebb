"""Taking a photo in: checked and redrawn apart, stored under its own digest, then named by one row."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from fleet.models.photos import Photo
from fleet.photos import store
from fleet.photos.intake import TakenPhoto, take_in
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff

CUSTOMER_WORDS = "A customer’s phone"


@dataclass(frozen=True)
class Outsider:
    """Somebody without an account here, as what they send names them."""

    id: UUID
    words: str


def keep_photo(
    *, raw: bytes, expected_sha256: str | None, by: Staff | Outsider | None, at: datetime
) -> Photo:
    """Take in one photo and return its row; the same file again returns the first row and changes nothing.

    raw: the file as it came; expected_sha256: the digest its sender announced, or None; by: None for a phone of which no
    more is known. Two senders of one file at once get the same row. Raises a `PhotoRefused` whose sentence can be shown.
    """
    digest = hashlib.sha256(raw).hexdigest()
    if expected_sha256 is None or expected_sha256.lower() == digest:
        kept = Photo.objects.filter(original_sha256=digest).first()
        if kept is not None:
            return kept
    # Decoding and storing take their time, so they come before the transaction and its locks.
    taken = take_in(raw, expected_sha256=expected_sha256)
    stored_name, print_name = store.put(taken.stored, ".jpg"), store.put(taken.print_copy, ".jpg")
    return _name_it(taken, stored_name, print_name, by=by, at=at)


@transaction.atomic
def _name_it(
    taken: TakenPhoto, stored_name: str, print_name: str, *, by: Staff | Outsider | None, at: datetime
) -> Photo:
    staff = by if isinstance(by, Staff) else None
    photo, is_new = Photo.objects.get_or_create(
        original_sha256=taken.original_sha256,
        defaults={
            "stored_sha256": taken.stored_sha256,
            "stored_name": stored_name,
            "print_name": print_name,
            "width_px": taken.width,
            "height_px": taken.height,
            "size_bytes": len(taken.stored),
            "perceptual_hash": taken.perceptual_hash,
            "taken_words": taken.taken_words,
            "received_at": at,
            "received_from": staff,
        },
    )
    if is_new:
        write_journal(
            event=Event.PHOTO_TAKEN_IN,
            subject=("photo", photo.pk),
            by=staff,
            by_words=by.words if isinstance(by, Outsider) else "" if by else CUSTOMER_WORDS,
            at=at,
            facts={
                "original_sha256": photo.original_sha256,
                "stored_sha256": photo.stored_sha256,
                "width_px": photo.width_px,
                "height_px": photo.height_px,
                "had_position": taken.had_position,
            },
        )
    return photo
