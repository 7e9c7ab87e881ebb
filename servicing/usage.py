"""How fast a meter runs: what it rose in the last weeks, by the day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

Reading = tuple[date, float]


def usage_per_day(readings: Sequence[Reading], *, on: date, window_days: int = 60) -> float | None:
    """The mean daily rise over the window before `on`; None under two readings on different days in it."""
    inside = sorted(one for one in readings if on - timedelta(days=window_days) <= one[0] <= on)
    if len(inside) < 2 or inside[0][0] == inside[-1][0]:
        return None
    return (inside[-1][1] - inside[0][1]) / (inside[-1][0] - inside[0][0]).days
