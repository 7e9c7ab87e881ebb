"""What follows when a wheel has been off: the workshop opens the check of its nuts, in the same transaction."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fleet.models.wheels import TyreFitting
from people.models import Staff

Follow = Callable[[TyreFitting, Staff, datetime], object]

_follow: list[Follow] = []


def register_wheel_work(follow: Follow) -> None:
    """ValueError when somebody else follows wheel work already."""
    if _follow and _follow[0] is not follow:
        raise ValueError("Wheel work is followed already.")
    _follow[:] = [follow]


def wheel_was_fitted(fitting: TyreFitting, *, by: Staff, at: datetime) -> None:
    """A tyre has just been put on a wheel: whoever follows it acts now, inside the caller's transaction."""
    for follow in _follow:
        follow(fitting, by, at)
