"""How a customer gets in without an account."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.rights import ANYBODY, RIGHT_NAMES, RIGHTS, SUPERVISOR
from people.rows import Row


class CustomerLink(Row):
    """A link that opens one hire without an account. Only the token's hash is kept: a stolen table opens nothing."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    for_words = models.CharField(max_length=80)
    rights = models.CharField("What it shows", max_length=10, choices=RIGHTS, default=SUPERVISOR)
    made_at = models.DateTimeField()
    # Null: the yard made it by itself, with a letter.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    expires_at = models.DateTimeField()
    # Null: good until it expires.
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_customerlink_expires_later",
                violation_error_message="A link expires after it is made.",
            ),
            models.CheckConstraint(
                condition=models.Q(rights__in=sorted(ANYBODY)),
                name="hire_customerlink_rights_known",
                violation_error_message="A link is for a supervisor, an operator or accounts.",
            ),
        ]

    def __str__(self) -> str:
        return f"link for {self.for_words}"

    @property
    def rights_name(self) -> str:
        return RIGHT_NAMES[self.rights]

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None


class SiteCode(Row):
    """The code that opens the pre-start of one hire at its cart's plate, for whoever is at work with it. Only its password
    hash is kept; a new code takes the old one's place."""

    line = models.OneToOneField(Line, on_delete=models.CASCADE, related_name="site_code")
    code_hash = models.CharField(max_length=128)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"site code of {self.line_id}"
