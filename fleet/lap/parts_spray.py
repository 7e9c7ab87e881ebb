"""What the cart puts water out with: heads and bars, with the way they throw.

Each function draws one thing and answers where a leader line to it should end.
"""

from fleet.lap.layout import HALF_WIDTH_M, Layout
from fleet.lap.pen import Pen, Point, turned

_FAN_DEGREES = 64.0


def _head(pen: Pen, x: float, y: float, heading: float, throw: float, *, rays: int = 4) -> None:
    """A spray head facing `heading` (degrees clockwise from straight ahead), `throw` metres of fan before it."""
    for ray in range(rays):
        along = turned(x, y, heading - _FAN_DEGREES / 2 + _FAN_DEGREES * ray / (rays - 1))
        pen.line("spray", along(0.12, 0), along(throw, 0))
    out = turned(x, y, heading)
    pen.path("solid", "M", *out(-0.04, -0.11), "A", 0.11, 0.11, "0 0 1", *out(-0.04, 0.11), "Z")


def front_heads(pen: Pen, at: Layout) -> Point:
    """A pair below the bumper."""
    for side in (-1, 1):
        _head(pen, side * 0.62, 0.0, side * 14, 0.44)
    return (at.driver * -0.62, 0.0)


def side_heads(pen: Pen, at: Layout) -> Point:
    """One each side, ahead of the rear wheels."""
    y = at.before_rear_wheels - 0.24
    for side in (-1, 1):
        _head(pen, side * HALF_WIDTH_M, y, side * 90, 0.44)
    return (HALF_WIDTH_M, y)


def batter_heads(pen: Pen, at: Layout) -> Point:
    """One each side behind the rear wheels, thrown further, up the bank."""
    y = batter_y(at)
    for side in (-1, 1):
        _head(pen, side * HALF_WIDTH_M, y, side * 108, 0.66, rays=3)
    return (HALF_WIDTH_M, y)


def batter_y(at: Layout) -> float:
    """Behind the last tyre, but never off the end."""
    return min(at.axle_y[-1] + at.tyre_m / 2 + 0.2, at.beam)


def rear_heads(pen: Pen, at: Layout) -> Point:
    """A pair across the rear, behind any bar, so that their fans fall clear of it."""
    y = bars_end(at) + 0.02
    for side in (-1, 1):
        _head(pen, side * 0.66, y, 180 - side * 10, 0.44)
    return (0.66, y)


def bars_end(at: Layout) -> float:
    """How far back the cart reaches with its bars."""
    return at.rear + 0.19 * len({"drop_bar", "dribble_bar"} & at.cart.gear)


def dribble_bar(pen: Pen, at: Layout) -> Point:
    """A narrow pressurised pipe across the rear with jets along it and clamped end caps; behind a drop bar."""
    y = bars_end(at) - 0.06
    pen.strokes("line", [((x, at.rear - 0.05), (x, y)) for x in (-0.2, 0.2)])
    pen.box("part", 0, y, 2.42, 0.08, corner=0.02)
    for side in (-1, 1):
        pen.box("solid", side * 1.22, y, 0.07, 0.16, corner=0.02)
    for jet in range(-5, 6):
        pen.circle("solid", jet * 0.21, y + 0.1, 0.026)
    return (1.0, y)


def drop_bar(pen: Pen, at: Layout) -> Point:
    """A wide-bored pipe across the rear on two arms, falling in streams."""
    y = at.rear + 0.1
    pen.strokes("line", [((x, at.rear - 0.05), (x, y)) for x in (-0.9, 0.9)])
    streams = [stream * 0.12 for stream in range(-9, 10)]
    pen.strokes("line", [((x, y + 0.05), (x, y + 0.14)) for x in streams])
    pen.box("part", 0, y, 2.3, 0.11, corner=0.05)
    return (1.0, y)
