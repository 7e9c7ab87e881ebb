"""Papers: numbered, frozen content, sealed bytes. A paper never changes; a correction is a new number that names the old."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from people.rows import SealedRow

KINDS = [("pre_hire", "Pre-hire certificate"), ("receipt", "Handover receipt")]


class Counter(models.Model):
    """The last serial used in a year; its row lock makes the numbers gapless."""

    year = models.PositiveSmallIntegerField(primary_key=True)
    last_serial = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year}: {self.last_serial}"


class Certificate(SealedRow):
    number = models.CharField(max_length=24, unique=True)
    # Short code of the verify address; random, so that numbers cannot be walked through.
    code = models.CharField(max_length=20, unique=True)
    kind = models.CharField(max_length=8, choices=KINDS)
    revision = models.PositiveSmallIntegerField(default=1)
    # What it is for: ("hire_line", id).
    subject_kind = models.CharField(max_length=20)
    subject_id = models.UUIDField()
    # Canonical JSON of the whole content, and its hash: the record hash on every foot.
    content = models.TextField()
    record_sha256 = models.CharField(max_length=64)
    # The lap drawing as the cart was at issue; the same drawing goes on the file and the page for ever.
    lap_svg = models.TextField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    # Null: the first of its subject.
    replaces = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    replaces_why = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-issued_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["subject_kind", "subject_id", "-issued_at"], name="certificates_of_subject"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(replaces=None) | ~models.Q(replaces_why=""),
                name="certificates_certificate_replacement_says_why",
                violation_error_message="A paper that replaces another says why.",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class SealedFile(SealedRow):
    """The sealed PDF of a paper: rendered once, kept by its own hash, served as a file."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveIntegerField()
    stored_name = models.CharField(max_length=120)
    seal_fingerprint = models.CharField(max_length=64)
    sealed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"file of {self.certificate_id}"


class Withdrawal(SealedRow):
    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="withdrawal")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=240)

    def __str__(self) -> str:
        return f"withdrawal of {self.certificate_id}"
