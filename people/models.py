"""Staff and the counters that slow down guessing."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from people.roles import ROLE_CHOICES, Role
from people.rows import Row

# A gateway dials from another country, so the number carries its own.
MOBILE_WORDS = "Write the mobile number with its country, as in +61 400 000 000."


class StaffManager(BaseUserManager["Staff"]):
    def get_by_natural_key(self, username: str | None) -> Staff:
        # "Marg" and "marg" are one person: capital letters come and go on a tablet keyboard.
        return self.get(username__iexact=username)


class Staff(Row, AbstractBaseUser):
    """A person of the yard. Never deleted: records name their author for ever."""

    username = models.CharField(max_length=40, unique=True)
    full_name = models.CharField(max_length=80)
    role = models.CharField(max_length=20, choices=ROLE_CHOICES)
    is_active = models.BooleanField(default=True)
    # How alerts reach them. Empty: on screen only.
    email = models.EmailField(blank=True)
    mobile = models.CharField(max_length=20, blank=True)

    objects: ClassVar[StaffManager] = StaffManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["full_name", "role"]

    class Meta:
        ordering = ("full_name",)
        constraints = [
            models.UniqueConstraint(
                models.functions.Lower("username"),
                name="people_staff_username_once",
                violation_error_message="Somebody already signs in with this name. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(role__in=[role.value for role in Role]),
                name="people_staff_role_known",
                violation_error_message="Choose one of the five roles.",
            ),
            models.CheckConstraint(
                condition=models.Q(mobile="") | models.Q(mobile__regex=r"^\+[1-9][0-9]{7,14}$"),
                name="people_staff_mobile_dialled_from_anywhere",
                violation_error_message=MOBILE_WORDS,
            ),
        ]

    def __str__(self) -> str:
        return self.full_name

    @property
    def role_label(self) -> str:
        return Role(self.role).label

    def has_role(self, roles: frozenset[Role]) -> bool:
        return self.is_active and Role(self.role) in roles


class SignInThrottle(models.Model):
    """Failed sign-ins by key ("name@address" or an address alone). In PostgreSQL, so wiping Redis opens nothing."""

    key = models.CharField(max_length=140, primary_key=True)
    failures = models.PositiveIntegerField(default=0)
    last_failure_at = models.DateTimeField()
    # Null: never made to wait.
    wait_until = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(failures__gte=0), name="people_signinthrottle_failures_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.key

    def seconds_to_wait(self, *, at: datetime) -> int:
        if self.wait_until is None or self.wait_until <= at:
            return 0
        return int((self.wait_until - at).total_seconds()) + 1
