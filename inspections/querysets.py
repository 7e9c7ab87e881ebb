"""The reading vocabulary of walk-rounds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from django.db import models

if TYPE_CHECKING:
    from inspections.models import WalkRound  # noqa: F401 - named in a quoted type


class WalkRoundQuerySet(models.QuerySet["WalkRound"]):
    def latest_of_each(
        self, *, carts: Iterable[UUID], purposes: Iterable[str], at: datetime
    ) -> WalkRoundQuerySet:
        """The newest walk-round per cart and purpose signed by `at`, by server-corrected time; of two records the later governs.
        A check that waits for acceptance governs nothing, so beside it stands the newest that does."""
        return (
            self.filter(cart__in=list(carts), purpose__in=list(purposes), signed_at__lte=at)
            .annotate(waits=models.Case(models.When(self._waits(), then=True), default=False))
            .order_by("cart_id", "purpose", "waits", "-signed_at", "-received_at")
            .distinct("cart_id", "purpose", "waits")
        )

    def counting(self) -> WalkRoundQuerySet:
        """Without the checks from site that wait for a manager's acceptance (WalkRound.asks_acceptance)."""
        return self.exclude(self._waits())

    def to_accept(self) -> WalkRoundQuerySet:
        """The checks from site that wait for a manager's acceptance."""
        return self.filter(self._waits())

    def _waits(self) -> models.Q:
        return models.Q(
            site_walker__isnull=False, name_confirmation=None, purpose__in=["pre_hire", "gate_out"]
        )

    def of_hire(self, subject: tuple[str, UUID]) -> WalkRoundQuerySet:
        """Those signed on site by the customer's people of one hire."""
        return self.filter(site_walker__subject_kind=subject[0], site_walker__subject_id=subject[1])

    def last_pre_starts(
        self, *, carts: Iterable[UUID], at: datetime
    ) -> dict[tuple[UUID, UUID | None], datetime]:
        """When the newest pre-start of each cart was signed, by (cart id, hire it was signed on; None: the yard's)."""
        found = (
            self.filter(cart__in=list(carts), purpose="daily", signed_at__lte=at)
            .values_list("cart", "site_walker__subject_id")
            .annotate(last=models.Max("signed_at"))
            .order_by()
        )
        return {(cart_id, hire_id): last for cart_id, hire_id, last in found}

    def with_name(self) -> WalkRoundQuerySet:
        """With what tells whether the name under each stands (WalkRound.is_name_confirmed)."""
        return self.select_related("name_confirmation")

    def for_list(self) -> WalkRoundQuerySet:
        return self.select_related("cart", "author", "edition").defer("manifest")


def last_pre_start(
    signed: Mapping[tuple[UUID, UUID | None], datetime], cart_id: UUID, hire_id: UUID | None
) -> datetime | None:
    """The newest of the yard's own and of those signed on this very hire (WalkRoundQuerySet.last_pre_starts)."""
    own = (signed.get((cart_id, hire)) for hire in {None, hire_id})
    return max((moment for moment in own if moment is not None), default=None)
