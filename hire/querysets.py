"""The reading vocabulary of hires."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from django.db import models

if TYPE_CHECKING:
    from hire.models.agreements import Line


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

    def locked(self, pk: UUID) -> Line:
        """One hire, locked and only then read: who waited for another desk must see the cart and the work as that left them, and a
        lock taken while reading them would still see the old ones."""
        self.select_for_update().get(pk=pk)
        return self.for_list().get(pk=pk)
