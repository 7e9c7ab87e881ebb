"""Which days the yard is closed, public holidays among them: the hire app knows the holidays, and lower apps ask."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Protocol

from people.yard import yard_policy


class ClosedDaysProvider(Protocol):
    def __call__(self, first: date, last: date) -> Callable[[date], bool]: ...


_provider: list[ClosedDaysProvider] = []


def register_closed_days(provider: ClosedDaysProvider) -> None:
    if _provider and _provider[0] is not provider:
        raise ValueError("Closed days already have a provider.")
    _provider[:] = [provider]


def closed_days(first: date, last: date) -> Callable[[date], bool]:
    """Whether the yard is closed on a day between two, both included. One query."""
    return _provider[0](first, last) if _provider else yard_policy().is_closed
