"""Hatching of a tank head: what the tank is made of, told by the kind of line alone.

The head is described about its own end, y running from the end into the tank: bounded outside by half an ellipse
(`half` wide to each side, `head` deep), or by the straight end when `head` is 0, and inside by the seam.
"""

import math
from collections.abc import Iterator

from fleet.lap.pen import Point

_PITCH_M = 0.13
_PAIR_M = 0.05
_DOT_PITCH_M = 0.1
# Clear of the outline, so that strokes end before a heavy line swallows them.
_CLEAR_M = 0.015
_LEAST_M = 0.03


def strokes(half: float, head: float, seam: float, material: str) -> Iterator[tuple[Point, Point]]:
    """Slanting strokes across the head: single ones, or in pairs for stainless steel.

    `seam` is how deep the hatched strip is: the head's own depth or more.
    """
    start = -half - seam
    count = math.ceil((2 * half + 2 * seam) / _PITCH_M)
    for number in range(count):
        for shift in (0.0, _PAIR_M) if material == "stainless" else (0.0,):
            stroke = _clipped(start + number * _PITCH_M + shift, half, head, seam)
            if stroke is not None:
                yield stroke


def dots(half: float, head: float, seam: float) -> Iterator[Point]:
    """Dots in staggered rows, for a moulded tank."""
    for row in range(math.floor(seam / _DOT_PITCH_M) + 1):
        y = seam - 0.05 - row * _DOT_PITCH_M
        columns = math.floor(2 * half / _DOT_PITCH_M)
        for column in range(columns):
            x = (column - (columns - 1) / 2 + (0.25 if row % 2 else -0.25)) * _DOT_PITCH_M
            if abs(x) < half - 0.04 and y > _outer(x, half, head) + 0.04:
                yield (x, y)


def _outer(x: float, half: float, head: float) -> float:
    """Where the end of the tank lies at this distance from the centre line."""
    if not head or abs(x) >= half:
        return head
    return head * (1 - math.sqrt(1 - (x / half) ** 2))


def _clipped(offset: float, half: float, head: float, seam: float) -> tuple[Point, Point] | None:
    """The part of the 45-degree line from (offset, seam) towards the end and the right that lies on the head."""
    start, end = max(0.0, -half - offset) + _CLEAR_M, min(seam, half - offset) - _CLEAR_M
    if head:
        # Where the line meets the ellipse about (0, head): a t^2 + 2 b t + c = 0 for t metres along each axis.
        a = 1 / half**2 + 1 / head**2
        b = offset / half**2 + (head - seam) / head**2
        c = (offset / half) ** 2 + ((head - seam) / head) ** 2 - 1
        within = b * b - a * c
        if within <= 0:
            return None
        reach = math.sqrt(within)
        start, end = max(start, (-b - reach) / a + _CLEAR_M), min(end, (-b + reach) / a - _CLEAR_M)
    if end - start < _LEAST_M:
        return None
    return (offset + start, seam - start), (offset + end, seam - end)
