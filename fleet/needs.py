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
    # A pre-start is owed for the shift that runs now, and one signed from this moment on counts for it; None: none is owed.
    shift_from: datetime | None = None


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


@dataclass(frozen=True)
class Promise:
    """A period in which a cart is promised or out, half-open. A cart still out past its promise has no end: it is out until
    it is back."""

    cart_id: UUID
    start: datetime
    end: datetime
    label: str
    record_kind: str
    record_id: UUID
    is_out: bool
    is_late: bool


class PromisesProvider(Protocol):
    def __call__(
        self, carts: Iterable[Cart | UUID], *, start: datetime, end: datetime, at: datetime
    ) -> list[Promise]: ...


_promises: list[PromisesProvider] = []


def register_promises(provider: PromisesProvider) -> None:
    if _promises and _promises[0] is not provider:
        raise ValueError("Promises already have a provider.")
    _promises[:] = [provider]


def promises(
    carts: Iterable[Cart | UUID], *, start: datetime, end: datetime, at: datetime
) -> dict[UUID, list[Promise]]:
    """What each cart is promised for, or was out on, in the half-open span, earliest first, by cart id, in a constant
    number of queries. A hire that is over counts for as long as the cart was really out."""
    found: dict[UUID, list[Promise]] = {}
    for promise in _promises[0](carts, start=start, end=end, at=at) if _promises else ():
        found.setdefault(promise.cart_id, []).append(promise)
    return found


@dataclass(frozen=True)
class SiteHire:
    """One hire as the customer's people on it meet it: the need itself, which walk-rounds they may sign for it, where its
    cart is, and whether it is over."""

    need: Need
    purposes: tuple[str, ...]
    where: str
    is_over: bool
    # Where a driver who collects the cart is told whether it may leave; blank: nobody collects it.
    gate_page: str = ""


class SiteHireProvider(Protocol):
    def __call__(self, record_id: UUID, *, at: datetime) -> SiteHire | None: ...


_site_hires: dict[str, SiteHireProvider] = {}


def register_site_hires(record_kind: str, provider: SiteHireProvider) -> None:
    """Tell of hires that customers' people walk on. ValueError when the kind already has another provider."""
    if _site_hires.get(record_kind, provider) is not provider:
        raise ValueError(f"Hires of kind {record_kind!r} already have a provider.")
    _site_hires[record_kind] = provider


def site_hire(record_kind: str, record_id: UUID, *, at: datetime) -> SiteHire | None:
    """The hire a customer's person is on; None when it is not there."""
    provider = _site_hires.get(record_kind)
    return provider(record_id, at=at) if provider else None
