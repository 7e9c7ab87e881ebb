"""The yards of a business that has more than one."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models.functions import Lower

from people.rows import Row


class Yard(Row):
    """One yard. A cart names its home by `name`; a business of one yard keeps none here. The time zone is the business's."""

    name = models.CharField(max_length=60)
    address = models.CharField(max_length=160)
    phone = models.CharField(max_length=30, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                Lower("name"),
                name="fleet_yard_name_once",
                violation_error_message="Another yard has this name already. Choose another.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
