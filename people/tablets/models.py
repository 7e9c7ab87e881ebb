"""Shared tablets, who signed in on each with a password, and the PINs that count there and nowhere else."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models.functions import Lower

from people.rows import Row


class TabletQuerySet(models.QuerySet["Tablet"]):
    def in_use(self) -> TabletQuerySet:
        return self.filter(ended_at=None)

    def for_list(self) -> TabletQuerySet:
        """Those in use first, by name."""
        in_use_first = models.F("ended_at").desc(nulls_first=True)
        return self.select_related("enrolled_by", "ended_by").order_by(in_use_first, "name")


class Tablet(Row):
    """A tablet that several people use. It is known by a token in its cookie; only the token's SHA-256 is kept."""

    name = models.CharField(max_length=40)
    token_sha256 = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: in use.
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    # Null: not heard of since it was enrolled.
    last_seen_at = models.DateTimeField(null=True)

    objects: ClassVar = TabletQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                Lower("name"),
                condition=models.Q(ended_at=None),
                name="tablets_tablet_name_once",
                violation_error_message="A tablet in use has this name already. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(name__regex=r"\S"),
                name="tablets_tablet_named",
                violation_error_message="Give the tablet a name.",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, ended_by=None)
                | models.Q(ended_at__isnull=False, ended_by__isnull=False),
                name="tablets_tablet_ended_by_somebody",
                violation_error_message="A tablet that was ended was ended by somebody.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PasswordSignIn(Row):
    """The last time a person signed in on a tablet with name and password. A PIN counts only on top of it."""

    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="sign_ins")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    # A keyed hash over the password's own hash, as the session keeps one: it differs once the password is changed.
    password_mark = models.CharField(max_length=64)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["tablet", "person"],
                name="tablets_passwordsignin_once",
                violation_error_message="A person's last sign-in on a tablet is one row.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person_id} on {self.tablet_id}"


class Pin(Row):
    """A person's PIN, hashed as passwords are. The row is locked while a try is counted."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="tablet_pin"
    )
    hash = models.CharField(max_length=128)
    set_at = models.DateTimeField()
    # Every try counts as wrong from before it is looked at until it turns out right.
    wrong_in_a_row = models.PositiveSmallIntegerField(default=0)
    # Null: not locked.
    locked_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"PIN of {self.person_id}"
