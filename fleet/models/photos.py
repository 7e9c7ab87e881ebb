from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from people.rows import Row, SealedRow


class Photo(SealedRow):
    """One picture as the yard keeps it. Both hashes are kept: the tablet's file and our re-encoded copy of it,
    so the chain of evidence spans the re-encoding."""

    original_sha256 = models.CharField(max_length=64, unique=True)
    stored_sha256 = models.CharField(max_length=64)
    stored_name = models.CharField(max_length=120)
    print_name = models.CharField(max_length=120)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    perceptual_hash = models.CharField(max_length=32)
    # As the camera wrote it: no zone, so it stays text. Blank: the file did not say.
    taken_words = models.CharField(max_length=40, blank=True)
    received_at = models.DateTimeField()
    # Null: a customer's phone sent it.
    received_from = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["perceptual_hash"], name="fleet_photo_alike")
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(width_px__gt=0, height_px__gt=0, size_bytes__gt=0),
                name="fleet_photo_has_size",
                violation_error_message="A photo has a width, a height and bytes.",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.original_sha256[:12]}"


class PhotoPart(Row):
    """Bytes of a photo that is still on its way, from one sender: parts follow each other without a gap from start 0.
    The last part is never a row; with it the photo itself is kept and its parts go."""

    sha256 = models.CharField(max_length=64)
    # The id of whoever sends it, staff or not; no row is kept for it beyond a week.
    sender = models.UUIDField()
    start = models.PositiveIntegerField()
    content = models.BinaryField()
    received_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["sha256", "sender", "start"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["sha256", "sender", "start"],
                name="fleet_photopart_start_once",
                violation_error_message="These bytes of the photo are here already.",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.sha256[:12]} from byte {self.start}"
