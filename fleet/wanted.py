"""What a check wants to see: asked for a defect's job, told by the app that owns the checks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Wanted:
    """look_for: what is looked at; sound: what is good; reading: the value wanted with its limit, "" where none is read;
    system: what it belongs to, as in "brakes"."""

    look_for: str
    sound: str
    reading: str
    system: str


class WantedProvider(Protocol):
    def __call__(self, check_keys: Collection[str]) -> Mapping[str, Wanted]: ...


_provider: list[WantedProvider] = []


def register_wanted(provider: WantedProvider) -> None:
    """ValueError when another provider is registered already."""
    if _provider and _provider[0] is not provider:
        raise ValueError("What checks want has a provider already.")
    _provider[:] = [provider]


def wanted(check_keys: Collection[str]) -> dict[str, Wanted]:
    """What these checks want to see, by key; one that is asked no longer is left out. One query."""
    return dict(_provider[0](check_keys)) if _provider and check_keys else {}
