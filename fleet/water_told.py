"""What carts carried on hires: the hire app knows, and it is read beside the yard's own record of a tank."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Record
from fleet.water.history import SOURCES


@dataclass(frozen=True)
class Told:
    """One water of one hire. source: a word of fleet.water.history, UNKNOWN where nobody told; words: "on hire H2026-00031, 14
    loads from 12 Nov"; places: each fill point with its licence or standpipe number; is_out: it is in the tank, for all anybody
    knows."""

    source: str
    at: datetime
    words: str
    places: tuple[str, ...]
    record: Record
    is_out: bool = False

    @property
    def what(self) -> str:
        return SOURCES.get(self.source, "Not told")


class ToldProvider(Protocol):
    def __call__(self, carts: Collection[Cart], *, whole: bool) -> Mapping[UUID, Sequence[Told]]:
        """By cart id, in any order; queries must not grow with the carts."""
        ...


_provider: list[ToldProvider] = []


def register_told(provider: ToldProvider) -> None:
    """ValueError when another provider is registered already."""
    if _provider and _provider[0] is not provider:
        raise ValueError("What carts carried on hires has a provider already.")
    _provider[:] = [provider]


def told_of(carts: Collection[Cart], *, whole: bool = False) -> Mapping[UUID, Sequence[Told]]:
    """What was told of hires, by cart id: all that was not potable, or nobody told, and what is out now. whole: the potable water
    of past hires too. Three queries however many carts."""
    return _provider[0](carts, whole=whole) if _provider and carts else {}
