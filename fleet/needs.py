"""When is each cart next wanted? The hire app answers; the defect queue and the board ask."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Window


@dataclass(frozen=True)
class Need:
    """The next promise a cart is under: its window, who it is for, and whether the cart is out on it already."""

    window: Window
    label: str
    record_kind: str
    record_id: UUID
    is_out: bool


class NeedsProvider(Protocol):
    def __call__(self, carts: Iterable[Cart], *, at: datetime) -> Mapping[UUID, Need]: ...


_provider: list[NeedsProvider] = []


def register_needs(provider: NeedsProvider) -> None:
    if _provider and _provider[0] is not provider:
        raise ValueError("Needs already have a provider.")
    _provider[:] = [provider]


def next_need(carts: Iterable[Cart], *, at: datetime) -> dict[UUID, Need]:
    """The next need of each cart that has one, by cart id, in a constant number of queries; carts may be a query not run yet."""
    return dict(_provider[0](carts, at=at)) if _provider else {}
