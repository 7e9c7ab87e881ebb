"""The reading vocabulary of walk-rounds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING
from uuid import UUID

from django.db import models

if TYPE_CHECKING:
    from inspections.models import WalkRound  # noqa: F401 - named in a quoted type


class WalkRoundQuerySet(models.QuerySet["WalkRound"]):
    def latest_of_each(self, *, carts: Iterable[UUID], purposes: Iterable[str]) -> WalkRoundQuerySet:
        """The newest walk-round per cart and purpose, by server-corrected time; two records are two facts, the later governs."""
        return (
            self.filter(cart__in=list(carts), purpose__in=list(purposes))
            .order_by("cart_id", "purpose", "-signed_at", "-received_at")
            .distinct("cart_id", "purpose")
        )

    def with_name(self) -> WalkRoundQuerySet:
        """With what tells whether the name under each stands (WalkRound.is_name_confirmed)."""
        return self.select_related("name_confirmation")

    def for_list(self) -> WalkRoundQuerySet:
        return self.select_related("cart", "author", "edition").defer("manifest")
