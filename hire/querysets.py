"""The reading vocabulary of hires."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from django.db import models
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import Q

if TYPE_CHECKING:
    from hire.models.agreements import Line


def overdue(*, at: datetime) -> Q:
    """Of unfinished hires: out, and should be back by now. When such a cart is back nobody can say."""
    should_be_back = Q(promised__endswith__lte=at, kept_until=None) | Q(kept_until__lte=at)
    return Q(handed_over_at__isnull=False) & should_be_back


def in_the_way(start: datetime, end: datetime, *, at: datetime) -> Q:
    """Of unfinished hires: those that keep their cart in a period, fetch it after the period has begun, or are overdue."""
    return Q(kept__overlap=DateTimeTZRange(start, end)) | Q(kept_until__gt=start) | overdue(at=at)


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
