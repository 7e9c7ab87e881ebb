"""The reading vocabulary of hires."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from hire.models.agreements import Line  # noqa: F401 - named in a quoted type


class LineQuerySet(models.QuerySet["Line"]):
    def standing(self) -> LineQuerySet:
        return self.filter(cancelled_at=None)

    def out_now(self) -> LineQuerySet:
        return self.filter(handed_over_at__isnull=False, back_at=None)

    def to_come(self) -> LineQuerySet:
        return self.standing().filter(handed_over_at=None)

    def unfinished(self) -> LineQuerySet:
        return self.standing().filter(back_at=None)

    def leaving_by(self, *, at: datetime) -> LineQuerySet:
        """Promised to leave at or before an instant, and still here."""
        return self.to_come().filter(promised__startswith__lte=at)

    def for_list(self) -> LineQuerySet:
        return self.select_related("cart", "agreement", "agreement__customer")
