"""What is said of services offered to a cart on hire: asked by the workshop's app, told by the app that owns the hires."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Protocol
from uuid import UUID


class OfferedProvider(Protocol):
    def __call__(self, carts: Collection[UUID], *, at: datetime) -> Mapping[tuple[UUID, UUID], str]: ...


_provider: list[OfferedProvider] = []


def register_offered(provider: OfferedProvider) -> None:
    """ValueError when another provider is registered already."""
    if _provider and _provider[0] is not provider:
        raise ValueError("Services offered have a provider already.")
    _provider[:] = [provider]


def offered(carts: Collection[UUID], *, at: datetime) -> Mapping[tuple[UUID, UUID], str]:
    """A sentence for each service last offered on site, by cart and service plan. One query; none without carts."""
    return _provider[0](carts, at=at) if _provider and carts else {}
